//! The entries of each kind of movement, planned from what stood in the vessels before it.

use crate::domain::instant::Instant;

use super::{
    Account, Amount, Basis, Draft, Entry, MovementKind, Silver, Vessel,
    course::{least_since, stood_at},
    past::left_of,
    share,
};

/// One entry without a reversal.
fn draft(kind: MovementKind, from: Account, to: Account, amount: Amount, basis: Basis) -> Draft {
    Draft { kind, from, to, amount, basis, reverses: None }
}

/// Silver and carried-off liquid of sheets of so many square millimetres: paper figures are per
/// square metre, so a million of them make one.
pub fn per_area(area_mm2: i64, per_m2: i64) -> i64 {
    share(per_m2, area_mm2, 1_000_000)
}

/// A batch is mixed, or solution made like it is added.
pub fn mixed(kind: MovementKind, vessel: Vessel, volume_ul: i64) -> Draft {
    draft(kind, Account::Mixed, vessel.into(), Amount::volume(volume_ul), Basis::Volume)
}

/// Water is added.
pub fn watered(kind: MovementKind, vessel: Vessel, volume_ul: i64) -> Draft {
    draft(kind, Account::Water, vessel.into(), Amount::volume(volume_ul), Basis::Volume)
}

/// What was there when the book was begun.
pub fn opened(vessel: Vessel, amount: Amount, basis: Basis) -> Draft {
    draft(MovementKind::Opening, Account::Opening, vessel.into(), amount, basis)
}

/// Sheets through one fixer, or through two: the silver goes into the first; the liquid the sheets
/// carry off goes, with its share of the silver, from the first into the second and from there into
/// the wash. Carry-in is not booked. A tray that the book thinks holds no more than would be
/// carried off gives none: its volume wants measuring, and no sheet takes a bath's last silver. Nor does
/// one typed in late take what was poured out since.
pub fn sheets(delivered: Silver, carried_ul: i64, first: Bath, second: Option<Bath>) -> Vec<Draft> {
    let store = Account::from(first.vessel);
    let mut entries = vec![draft(MovementKind::Sheet, Account::Paper, store, Amount::silver(delivered), Basis::Area)];
    let mut bath = first.with(Amount::silver(delivered));
    if let Some(second) = second {
        let carried = bath.carried_off(carried_ul);
        let (from, to) = (bath.vessel.into(), second.vessel.into());
        entries.extend(carried.map(|part| draft(MovementKind::Sheet, from, to, part, Basis::Area)));
        bath = second.with(carried.unwrap_or_default());
    }
    let carried = bath.carried_off(carried_ul);
    entries
        .extend(carried.map(|part| draft(MovementKind::Sheet, bath.vessel.into(), Account::Wash, part, Basis::Area)));
    entries
}

/// A bath that sheets go through.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bath {
    /// Which.
    pub vessel: Vessel,
    /// What stood there when they did.
    pub holds: Amount,
    /// The least that stood there from then on.
    pub least: Amount,
}

impl Bath {
    /// A bath to which nothing happened since.
    pub fn now((vessel, holds): (Vessel, Amount)) -> Self {
        Self { vessel, holds, least: holds }
    }

    fn with(self, more: Amount) -> Self {
        Self { holds: self.holds + more, least: self.least + more, ..self }
    }

    fn carried_off(self, carried_ul: i64) -> Option<Amount> {
        let there_is = carried_ul > 0 && carried_ul < self.holds.volume_ul && carried_ul < self.least.volume_ul;
        let part = there_is.then(|| self.holds.part(carried_ul)).flatten()?;
        Some(Amount { silver: part.silver.least(self.least.silver.above_zero()), ..part })
    }
}

/// Sheets entered after their fixer had moved on: the silver follows it. Their carried-off liquid
/// is already in what was measured when the bath was retired.
pub fn late_sheets(delivered: Silver, now_in: Vessel) -> Draft {
    draft(MovementKind::Sheet, Account::Paper, now_in.into(), Amount::silver(delivered), Basis::Area)
}

/// The remark of sheets whose silver a later reading had found already.
pub fn counted_in_reading(entry: i64) -> String {
    format!("their silver is in the reading of entry {entry}")
}

/// A part is poured out, with its share of the silver. `None` when there is less.
pub fn poured(kind: MovementKind, from: (Vessel, Amount), to: Account, volume_ul: i64, basis: Basis) -> Option<Draft> {
    let part = from.1.part(volume_ul)?;
    Some(draft(kind, from.0.into(), to, part, if part.silver.is_none() { Basis::Volume } else { basis }))
}

/// The volume was measured: a shortfall is written off, an excess comes from water, both without
/// silver. `None` when the measurement agrees with the book.
pub fn measured(kind: MovementKind, vessel: (Vessel, Amount), measured_ul: i64) -> Option<Draft> {
    let short = vessel.1.volume_ul - measured_ul;
    match short {
        0 => None,
        1.. => Some(draft(kind, vessel.0.into(), Account::WrittenOff, Amount::volume(short), Basis::Volume)),
        _ => Some(watered(kind, vessel.0, -short)),
    }
}

/// Water went into the air: volume without silver.
pub fn evaporated(vessel: Vessel, volume_ul: i64) -> Draft {
    let amount = Amount::volume(volume_ul);
    draft(MovementKind::Evaporation, vessel.into(), Account::WrittenOff, amount, Basis::Volume)
}

/// The silver was read (micrograms a litre) just now: what the book has too little comes from paper,
/// what it has too much goes back there. Up to two entries, because a reading can raise the low
/// estimate and lower the high one; one of nothing when the book was right.
pub fn read(vessel: (Vessel, Amount), ug_per_l: Silver, basis: Basis) -> Vec<Draft> {
    let found = ug_per_l.map(|per_litre| share(per_litre, vessel.1.volume_ul, 1_000_000));
    differed(vessel, found - vessel.1.silver, basis)
}

/// The silver was read at an earlier moment: what the reading differed from the book *then* is booked,
/// as far as it is still there. Movements since stand, and a later reading stands above this one.
pub fn read_at(vessel: Vessel, entries: &[Entry], at: Instant, ug_per_l: Silver, basis: Basis) -> Vec<Draft> {
    let then = stood_at(vessel, entries, at);
    let found = ug_per_l.map(|per_litre| share(per_litre, then.volume_ul, 1_000_000));
    let left = left_of(found - then.silver, vessel, entries, at).unwrap_or(Silver::NONE);
    differed((vessel, least_since(vessel, entries, at)), left, basis)
}

/// What a reading differed from the book; no more goes back to paper than was there ever since.
fn differed((vessel, holds): (Vessel, Amount), difference: Silver, basis: Basis) -> Vec<Draft> {
    let missing = difference.above_zero();
    let too_much = (-difference).above_zero();
    let surplus = Silver {
        best_ug: too_much.best_ug.min(holds.silver.best_ug),
        low_ug: too_much.low_ug.min(holds.silver.low_ug),
        high_ug: too_much.high_ug.min(holds.silver.high_ug),
    };
    let mut entries = Vec::with_capacity(2);
    let (store, paper) = (Account::from(vessel), Account::Paper);
    if !missing.is_none() || surplus.is_none() {
        entries.push(draft(MovementKind::Reading, paper, store, Amount::silver(missing), basis));
    }
    if !surplus.is_none() {
        entries.push(draft(MovementKind::Reading, store, paper, Amount::silver(surplus), basis));
    }
    entries
}

/// So much silver was recovered and weighed; the liquid stays. The low estimate gives what it has:
/// more recovered than it supposed shows it was too low, not that silver came from nowhere.
pub fn recovered(vessel: (Vessel, Amount), grams_ug: i64) -> Draft {
    let silver = Silver { best_ug: grams_ug, low_ug: grams_ug.min(vessel.1.silver.low_ug), high_ug: grams_ug };
    draft(MovementKind::Recovery, vessel.0.into(), Account::Recovered, Amount::silver(silver), Basis::Weighed)
}

/// The first rinse was collected: its water, and of the silver that sheets carried into the wash what
/// is in it.
pub fn rinsed(container: Vessel, volume_ul: i64, silver: Silver) -> Vec<Draft> {
    let to = Account::from(container);
    let water = draft(MovementKind::Rinse, Account::Water, to, Amount::volume(volume_ul), Basis::Volume);
    let carried = draft(MovementKind::Rinse, Account::Wash, to, Amount::silver(silver), Basis::Area);
    if silver.is_none() { vec![water] } else { vec![water, carried] }
}

/// Film and paper were thrown into a container, with the silver still in them.
pub fn scrapped(container: Vessel, silver: Silver) -> Draft {
    draft(MovementKind::Scrap, Account::Paper, container.into(), Amount::silver(silver), Basis::Area)
}

/// The mirror of a movement's entries, last first.
pub fn mirrored(entries: &[Entry]) -> Vec<Draft> {
    entries
        .iter()
        .rev()
        .map(|entry| Draft {
            kind: MovementKind::Reversal,
            from: entry.to,
            to: entry.from,
            amount: entry.amount,
            basis: entry.basis,
            reverses: Some(entry.number),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        book::Balances,
        ids::{BatchId, Id},
    };

    fn bath() -> Vessel {
        Vessel::Batch(BatchId::from_uuid(uuid::Uuid::from_u128(1)))
    }

    fn silver(low_ug: i64, best_ug: i64, high_ug: i64) -> Silver {
        Silver { best_ug, low_ug, high_ug }
    }

    #[test]
    fn a_reading_can_raise_the_low_estimate_and_lower_the_high_one() {
        // 4 L with 2.40 g (0.87 to 3.99) by area; the paper strip says 0.5 g/L, give or take 0.1
        let holds = Amount { volume_ul: 4_000_000, silver: silver(867_000, 2_403_000, 3_989_000) };
        let entries = read((bath(), holds), silver(400_000, 500_000, 600_000), Basis::EstimatingPaper);
        let mut balances = Balances::default();
        balances.set(bath(), holds);
        for entry in &entries {
            balances.apply(entry).expect("the book has it");
        }
        assert_eq!(entries.len(), 2, "{entries:?}");
        assert_eq!(balances.of(bath()).silver, silver(1_600_000, 2_000_000, 2_400_000));
        assert_eq!(balances.of(bath()).volume_ul, 4_000_000);
    }

    #[test]
    fn a_reading_that_finds_the_book_right_is_still_an_entry() {
        let holds = Amount { volume_ul: 1_000_000, silver: silver(1, 2, 3) };
        let entries = read((bath(), holds), silver(1, 2, 3), Basis::Laboratory);
        assert_eq!(entries.len(), 1);
        assert!(entries[0].amount.is_nothing());
    }

    #[test]
    fn a_measurement_moves_no_silver() {
        let holds = Amount { volume_ul: 1_000_000, silver: silver(1, 2, 3) };
        let less = measured(MovementKind::Measuring, (bath(), holds), 900_000).expect("a shortfall");
        assert_eq!((less.to, less.amount), (Account::WrittenOff, Amount::volume(100_000)));
        let more = measured(MovementKind::Measuring, (bath(), holds), 1_200_000).expect("an excess");
        assert_eq!((more.from, more.amount), (Account::Water, Amount::volume(200_000)));
        assert_eq!(measured(MovementKind::Measuring, (bath(), holds), 1_000_000), None);
    }

    #[test]
    fn more_recovered_than_the_low_estimate_supposed_takes_what_that_has() {
        let holds = Amount { volume_ul: 1_000_000, silver: silver(350_000, 970_000, 1_610_000) };
        let entry = recovered((bath(), holds), 800_000);
        assert_eq!(entry.amount.silver, silver(350_000, 800_000, 800_000));
    }

    #[test]
    fn no_sheet_carries_off_the_last_of_a_bath() {
        let holds = Amount { volume_ul: 1_000, silver: Silver::NONE };
        let entries = sheets(silver(1, 2, 3), 1_000, Bath::now((bath(), holds)), None);
        assert_eq!(entries.len(), 1, "{entries:?}");
        assert_eq!(entries[0].to, bath().into());
    }
}
