//! The laws of the book, proved from its entries alone.

use std::collections::{BTreeMap, BTreeSet};

use crate::domain::ids::MovementId;

use super::{Account, Amount, Balances, Draft, Entry, MovementKind, Vessel, course::as_it_happened, effect};

/// A law that a book breaks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Broken {
    /// The entry where it shows, if it shows at one.
    pub entry: Option<i64>,
    /// What is wrong, in words.
    pub what: String,
}

/// Everything that is wrong with a book, its entries given in order; nothing when it is right.
///
/// - no entry moves less than nothing, or from an account to itself;
/// - no store is below zero after any entry, in volume or in any of the three silver estimates;
/// - what left the sources is what stands in the stores and went into the sinks;
/// - every reversal mirrors exactly one earlier entry, once, and none takes back a reversal.
///
/// This is the order as written; [`broken_as_it_happened`] is the other one.
pub fn broken(entries: &[Entry]) -> Vec<Broken> {
    let mut faults = Vec::new();
    let mut seen: BTreeMap<i64, &Entry> = BTreeMap::new();
    let mut taken_back = BTreeSet::new();
    let mut balances = Balances::default();
    let mut last = 0;
    for entry in entries {
        let mut fault = |what: String| faults.push(Broken { entry: Some(entry.number), what });
        if entry.number <= last {
            fault(format!("entry {} does not follow entry {last}", entry.number));
        }
        last = entry.number;
        if let Some(what) = entry.amount.below_zero() {
            fault(format!("moves a {what} below zero"));
        }
        if entry.from == entry.to {
            fault("moves from an account to itself".to_owned());
        }
        if let Some(reversed) = entry.reverses {
            if let Err(what) = mirrors(entry, seen.get(&reversed).copied()) {
                fault(what);
            }
            if !taken_back.insert(reversed) {
                fault(format!("takes entry {reversed} back a second time"));
            }
        } else if entry.kind == MovementKind::Reversal {
            fault("is a reversal and does not say of what".to_owned());
        }
        carry_out(&mut balances, entry, &mut fault);
        seen.insert(entry.number, entry);
    }
    faults.extend(unbalanced(entries, &balances));
    faults
}

/// Carries an entry out whatever it does, so that the walk goes on after a fault.
fn carry_out(balances: &mut Balances, entry: &Entry, fault: &mut impl FnMut(String)) {
    let draft = Draft {
        kind: entry.kind,
        from: entry.from,
        to: entry.to,
        amount: entry.amount,
        basis: entry.basis,
        reverses: entry.reverses,
    };
    if let Err(overdrawn) = balances.apply(&draft) {
        fault(format!("leaves a {} with a {} below zero", entry.from.word(), overdrawn.what));
        for vessel in [entry.from, entry.to].into_iter().filter_map(Account::vessel) {
            let after = balances.of(vessel) + effect(entry.from, entry.to, entry.amount, vessel);
            balances.set(vessel, after);
        }
    }
}

/// Everything that is wrong with a book in the order in which things happened, the first fault of each
/// vessel: what stood there was never below zero, in volume or in any of the three silver estimates;
/// nothing happened to a batch before it was mixed, nor to it after its retiring (`retirings` names those
/// movements), nor to a container after its removal.
pub fn broken_as_it_happened(entries: &[Entry], retirings: &BTreeSet<MovementId>) -> Vec<Broken> {
    let mut vessels: BTreeMap<Vessel, Lived> = BTreeMap::new();
    let mut faults = Vec::new();
    for entry in as_it_happened(entries) {
        for vessel in [entry.from, entry.to].into_iter().filter_map(Account::vessel) {
            let lived = vessels.entry(vessel).or_default();
            let what = lived.through(vessel, entry, retirings.contains(&entry.movement));
            if let Some(what) = what.filter(|_| !std::mem::replace(&mut lived.is_faulty, true)) {
                faults.push(Broken { entry: Some(entry.number), what });
            }
        }
    }
    faults
}

/// What a vessel went through so far.
#[derive(Default)]
struct Lived {
    holds: Amount,
    is_mixed: bool,
    closed_by: Option<MovementId>,
    is_faulty: bool,
}

impl Lived {
    fn through(&mut self, vessel: Vessel, entry: &Entry, retires: bool) -> Option<String> {
        let word = Account::from(vessel).word();
        self.holds += entry.effect_on(vessel);
        self.is_mixed |= entry.kind == MovementKind::Mixing;
        let closed = self.closed_by.filter(|closing| *closing != entry.movement);
        let closes = match vessel {
            Vessel::Batch(_) => retires,
            Vessel::Container(_) => entry.kind == MovementKind::Removal,
        };
        if closes {
            self.closed_by = Some(entry.movement);
        }
        if closed.is_some() {
            return Some(format!("happened to a {word} after it had left for good"));
        }
        if matches!(vessel, Vessel::Batch(_)) && !self.is_mixed {
            return Some(format!("happened to a {word} before it was mixed"));
        }
        self.holds.below_zero().map(|what| format!("leaves a {word} with a {what} below zero at the time it happened"))
    }
}

fn mirrors(entry: &Entry, original: Option<&Entry>) -> Result<(), String> {
    let Some(original) = original else {
        return Err("takes back an entry that was not made before it".to_owned());
    };
    if original.reverses.is_some() {
        return Err(format!("takes back entry {}, itself a reversal", original.number));
    }
    if entry.kind != MovementKind::Reversal {
        return Err("takes an entry back and is not called a reversal".to_owned());
    }
    if (entry.from, entry.to, entry.amount) != (original.to, original.from, original.amount) {
        return Err(format!("is not the mirror of entry {}", original.number));
    }
    Ok(())
}

/// What each end of the book gave or took, and what the stores hold: they must agree.
fn unbalanced(entries: &[Entry], balances: &Balances) -> Option<Broken> {
    let totals = Totals::of(entries);
    let mut stores = Amount::NOTHING;
    for (_, amount) in balances.iter() {
        stores += amount;
    }
    (totals.sources != stores + totals.sinks).then(|| Broken {
        entry: None,
        what: format!(
            "the sources gave {:?}, the stores hold {stores:?} and the sinks took {:?}: they do not agree",
            totals.sources, totals.sinks
        ),
    })
}

/// What the sources gave and the sinks took, net of what went back.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Totals {
    /// Given by the sources.
    pub sources: Amount,
    /// Taken by the sinks.
    pub sinks: Amount,
}

impl Totals {
    /// Adds up a book.
    pub fn of(entries: &[Entry]) -> Self {
        let mut totals = Self::default();
        for entry in entries {
            for (account, amount) in [(entry.from, entry.amount), (entry.to, Amount::NOTHING - entry.amount)] {
                if account.is_source() {
                    totals.sources += amount;
                } else if account.is_sink() {
                    totals.sinks -= amount;
                }
            }
        }
        totals
    }
}

/// What stands in each vessel after all entries, whether or not the laws hold.
pub fn balances(entries: &[Entry]) -> Balances {
    let mut balances = Balances::default();
    for entry in entries {
        carry_out(&mut balances, entry, &mut |_| ());
    }
    balances
}
