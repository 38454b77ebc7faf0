//! The silver book: an append-only record of every movement of solution and silver.
//!
//! Double entry: each [`Entry`] moves a volume and the silver in it, neither below zero, from one
//! [`Account`] to another. Nothing here knows how it is stored. [`moves`] plans the entries of each
//! kind of movement from the balances before it; [`course`] is the book in the order in which things
//! happened, whatever order they were written in; [`laws`] proves a book right in both.

mod account;
mod amount;
pub mod course;
pub mod laws;
pub mod moves;
pub mod past;
pub mod written;

use std::collections::BTreeMap;

pub use account::{Account, Vessel};
pub use amount::{Amount, Silver, share};

use super::{
    ids::{MovementId, PersonId},
    instant::Instant,
};

/// Declares an enum of stored words.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$each:meta])* $variant:ident = $word:literal,)* }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name { $($(#[$each])* $variant,)* }

        impl $name {
            /// All of them.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// The stored word, which is also the word for people.
            pub fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $word,)* }
            }

            /// From the stored word.
            pub fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$variant),)* _ => None }
            }
        }
    };
}

words! {
    /// What kind of movement caused an entry.
    MovementKind {
        /// A batch was mixed.
        Mixing = "mixing",
        /// It was there when the book was begun.
        Opening = "opening",
        /// A sheet went through a tray line.
        Sheet = "sheet",
        /// A batch was poured into a waste container for good.
        Retiring = "retiring",
        /// Fresh solution or water was added.
        ToppingUp = "topping up",
        /// A part was poured into a waste container.
        Pouring = "pouring",
        /// The first rinse was collected, with the silver that sheets carried into it.
        Rinse = "rinse",
        /// Film and paper were thrown into a container, with the silver still in them.
        Scrap = "scrap",
        /// Something was spilled.
        Spill = "spill",
        /// A sample was taken.
        Sample = "sample",
        /// Water evaporated.
        Evaporation = "evaporation",
        /// The volume was measured and differed from the book.
        Measuring = "measuring",
        /// The silver was read.
        Reading = "reading",
        /// Let go under somebody's authority.
        Discharge = "discharge",
        /// Silver was recovered on site.
        Recovery = "recovery",
        /// A carrier took the container away.
        Removal = "removal",
        /// An earlier movement was a mistake.
        Reversal = "reversal",
    }
}

words! {
    /// What an entry's silver figure rests on, from the surest to the weakest.
    Basis {
        /// No silver moves; the volume is as measured or stated.
        Volume = "volume",
        /// Weighed after recovery.
        Weighed = "weighed",
        /// A laboratory's result.
        Laboratory = "laboratory",
        /// Silver estimating paper.
        EstimatingPaper = "silver estimating paper",
        /// Area of sheets × silver delivered per area.
        Area = "area",
        /// Somebody's statement.
        Stated = "stated",
        /// Nobody knows: the high estimate is the most that such a liquid was ever measured with.
        Unknown = "unknown",
    }
}

impl Basis {
    /// The weaker of two.
    #[must_use]
    pub fn weaker(self, other: Self) -> Self {
        self.max(other)
    }
}

/// A line of the book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Its number: the book's order.
    pub number: i64,
    /// The record that caused it.
    pub movement: MovementId,
    /// When it happened, as the paper in the dark said.
    pub happened_at: Instant,
    /// When it was written here.
    pub recorded_at: Instant,
    /// What kind of movement.
    pub kind: MovementKind,
    /// Where it came from.
    pub from: Account,
    /// Where it went.
    pub to: Account,
    /// How much.
    pub amount: Amount,
    /// What the silver figure rests on.
    pub basis: Basis,
    /// The entry that this one takes back.
    pub reverses: Option<i64>,
    /// Who wrote it.
    pub recorded_by: PersonId,
    /// Anything else; for a reversal, why.
    pub remark: String,
}

impl Entry {
    /// What it does to a vessel: plus what went in, minus what went out.
    pub fn effect_on(&self, vessel: Vessel) -> Amount {
        effect(self.from, self.to, self.amount, vessel)
    }

    /// Whether it moves something into or out of a vessel.
    pub fn touches(&self, vessel: Vessel) -> bool {
        self.from.vessel() == Some(vessel) || self.to.vessel() == Some(vessel)
    }
}

/// An entry about to be written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Draft {
    /// What kind.
    pub kind: MovementKind,
    /// Where it comes from.
    pub from: Account,
    /// Where it goes.
    pub to: Account,
    /// How much.
    pub amount: Amount,
    /// What the silver figure rests on.
    pub basis: Basis,
    /// The entry that this one takes back.
    pub reverses: Option<i64>,
}

impl Draft {
    /// The entry it becomes under a number, of a movement.
    pub fn entry(&self, number: i64, of: &Act) -> Entry {
        Entry {
            number,
            movement: of.movement,
            happened_at: of.happened_at,
            recorded_at: of.recorded_at,
            kind: self.kind,
            from: self.from,
            to: self.to,
            amount: self.amount,
            basis: self.basis,
            reverses: self.reverses,
            recorded_by: of.recorded_by,
            remark: String::new(),
        }
    }
}

/// When and by whom something was done that becomes entries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Act {
    /// The movement it is.
    pub movement: MovementId,
    /// When it happened.
    pub happened_at: Instant,
    /// When it was written.
    pub recorded_at: Instant,
    /// Who wrote it.
    pub recorded_by: PersonId,
}

fn effect(from: Account, to: Account, amount: Amount, vessel: Vessel) -> Amount {
    let mut change = Amount::NOTHING;
    if to.vessel() == Some(vessel) {
        change += amount;
    }
    if from.vessel() == Some(vessel) {
        change -= amount;
    }
    change
}

/// What stands in each vessel.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Balances(BTreeMap<Vessel, Amount>);

/// A vessel does not hold what should be taken from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the book has too little {what} there")]
pub struct Overdrawn {
    /// Which vessel.
    pub vessel: Vessel,
    /// What it holds by the book.
    pub holds: Amount,
    /// Which figure would fall below zero, in words.
    pub what: &'static str,
}

impl Balances {
    /// What stands in a vessel; nothing when the book never named it.
    pub fn of(&self, vessel: Vessel) -> Amount {
        self.0.get(&vessel).copied().unwrap_or_default()
    }

    /// Sets what stands in a vessel, as read from a stored book.
    pub fn set(&mut self, vessel: Vessel, amount: Amount) {
        self.0.insert(vessel, amount);
    }

    /// Every vessel the book named, with what stands in it.
    pub fn iter(&self) -> impl Iterator<Item = (Vessel, Amount)> {
        self.0.iter().map(|(vessel, amount)| (*vessel, *amount))
    }

    /// Carries an entry out.
    ///
    /// # Errors
    /// [`Overdrawn`] when the vessel it comes from would fall below zero in volume or in any of the
    /// three silver estimates; then nothing is changed.
    pub fn apply(&mut self, draft: &Draft) -> Result<(), Overdrawn> {
        if let Some(vessel) = draft.from.vessel() {
            let holds = self.of(vessel);
            if let Some(what) = (holds - draft.amount).below_zero() {
                return Err(Overdrawn { vessel, holds, what });
            }
        }
        for vessel in [draft.from, draft.to].into_iter().filter_map(Account::vessel) {
            let after = self.of(vessel) + effect(draft.from, draft.to, draft.amount, vessel);
            self.0.insert(vessel, after);
        }
        Ok(())
    }
}

/// What the silver figure of a vessel rests on after these entries: its last standing reading, weakened by
/// whatever came in since, in the order in which it happened.
pub fn basis_of(vessel: Vessel, entries: &[Entry]) -> Basis {
    basis_from(vessel, &course::as_it_happened(entries))
}

/// What it rested on at a moment.
pub fn basis_at(vessel: Vessel, entries: &[Entry], at: Instant) -> Basis {
    let mut until = course::as_it_happened(entries);
    until.retain(|entry| course::minute(entry.happened_at) <= course::minute(at));
    basis_from(vessel, &until)
}

fn basis_from(vessel: Vessel, in_order: &[&Entry]) -> Basis {
    let mut basis = Basis::Volume;
    for entry in in_order.iter().filter(|entry| entry.touches(vessel)) {
        if entry.kind == MovementKind::Reading {
            basis = entry.basis;
        } else if entry.to.vessel() == Some(vessel) && !entry.amount.silver.is_none() {
            basis = basis.weaker(entry.basis);
        }
    }
    basis
}

/// The entries that were neither taken back nor take one back.
pub fn standing(entries: &[Entry]) -> impl Iterator<Item = &Entry> {
    let reversed: std::collections::BTreeSet<i64> = entries.iter().filter_map(|entry| entry.reverses).collect();
    entries.iter().filter(move |entry| entry.reverses.is_none() && !reversed.contains(&entry.number))
}
