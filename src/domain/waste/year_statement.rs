//! A calendar year's statement of what stood in waste containers: at its start, what came in, what
//! went out by which way, at its end. By kind of contents; the kinds add up to the whole.
//!
//! 40 CFR 266.70(c) asks recyclers of precious metals for the volume at the start of the calendar
//! year, what was generated or received during it, and what was there at its end.

use std::{collections::BTreeMap, ops::Add};

use jiff::tz::TimeZone;

use super::container::Contents;
use crate::domain::{
    book::{Account, Amount, Basis, Entry, Vessel, basis_of, standing},
    ids::{BatchId, ContainerId},
};

/// The columns of a statement, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Figure {
    /// At the start of the year.
    Start,
    /// Came in.
    Generated,
    /// Came from, less what went to, containers of another kind.
    FromOtherKinds,
    /// Taken away by carriers.
    Removed,
    /// Recovered on site.
    Recovered,
    /// Let go under somebody's authority.
    Discharged,
    /// Written off.
    WrittenOff,
    /// At the end of the year.
    End,
}

impl Figure {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::Start,
        Self::Generated,
        Self::FromOtherKinds,
        Self::Removed,
        Self::Recovered,
        Self::Discharged,
        Self::WrittenOff,
        Self::End,
    ];

    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Generated => "generated",
            Self::FromOtherKinds => "from other kinds",
            Self::Removed => "removed",
            Self::Recovered => "recovered",
            Self::Discharged => "discharged",
            Self::WrittenOff => "written off",
            Self::End => "end",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|figure| figure.as_str() == word)
    }
}

/// One line of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Line {
    /// At the start of the year.
    pub start: Amount,
    /// Came in from batches, the wash, sheets and water (what measurements found too much), or stood
    /// there when the book was begun; also what was discharged straight from a bath.
    pub generated: Amount,
    /// Came from, less what went to, containers of another kind.
    pub from_other_kinds: Amount,
    /// Taken away by carriers.
    pub removed: Amount,
    /// Recovered on site.
    pub recovered: Amount,
    /// Let go under somebody's authority.
    pub discharged: Amount,
    /// Written off: spills, samples, evaporation, what measurements found too little.
    pub written_off: Amount,
    /// At the end of the year.
    pub end: Amount,
    /// Whether the silver of a container in it is not known: then its best figures say too little.
    pub silver_unknown: bool,
}

impl Line {
    /// What the line says itself: start and movements against its end.
    pub fn balances(&self) -> bool {
        self.start + self.generated + self.from_other_kinds
            == self.end + self.removed + self.recovered + self.discharged + self.written_off
    }

    /// One of its figures.
    pub fn figure(&self, figure: Figure) -> Amount {
        match figure {
            Figure::Start => self.start,
            Figure::Generated => self.generated,
            Figure::FromOtherKinds => self.from_other_kinds,
            Figure::Removed => self.removed,
            Figure::Recovered => self.recovered,
            Figure::Discharged => self.discharged,
            Figure::WrittenOff => self.written_off,
            Figure::End => self.end,
        }
    }

    /// The same to be set.
    pub fn figure_mut(&mut self, figure: Figure) -> &mut Amount {
        match figure {
            Figure::Start => &mut self.start,
            Figure::Generated => &mut self.generated,
            Figure::FromOtherKinds => &mut self.from_other_kinds,
            Figure::Removed => &mut self.removed,
            Figure::Recovered => &mut self.recovered,
            Figure::Discharged => &mut self.discharged,
            Figure::WrittenOff => &mut self.written_off,
            Figure::End => &mut self.end,
        }
    }

    fn add(&mut self, other: &Self) {
        self.start += other.start;
        self.generated += other.generated;
        self.from_other_kinds += other.from_other_kinds;
        self.removed += other.removed;
        self.recovered += other.recovered;
        self.discharged += other.discharged;
        self.written_off += other.written_off;
        self.end += other.end;
        self.silver_unknown |= other.silver_unknown;
    }
}

/// A figure that is not what it was.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    /// Of which kind.
    pub contents: Contents,
    /// Which.
    pub figure: Figure,
    /// What it was.
    pub was: Amount,
    /// What it is.
    pub is: Amount,
}

/// The statement of one year: a line for each kind of contents there was, and all together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct YearStatement {
    /// The year.
    pub year: i16,
    /// By contents.
    pub lines: Vec<(Contents, Line)>,
    /// All of them.
    pub total: Line,
}

impl YearStatement {
    /// From its lines.
    pub fn of(year: i16, lines: Vec<(Contents, Line)>) -> Self {
        let mut total = Line::default();
        for (_, line) in &lines {
            total.add(line);
        }
        Self { year, lines, total }
    }

    /// The figures that are not what they were in an earlier statement of the same year.
    pub fn changed_since(&self, earlier: &Self) -> Vec<Change> {
        let line = |said: &Self, kind: Contents| {
            said.lines.iter().find(|(contents, _)| *contents == kind).map_or(Line::default(), |(_, line)| *line)
        };
        let mut changes = Vec::new();
        for contents in Contents::ALL {
            let (was, is) = (line(earlier, contents), line(self, contents));
            for figure in Figure::ALL {
                let change = Change { contents, figure, was: was.figure(figure), is: is.figure(figure) };
                changes.extend((change.was != change.is).then_some(change));
            }
        }
        changes
    }
}

/// The years from the first entry on, by when it happened in the site's zone, oldest first, without
/// gaps: to the last entry, and on through `until`, since what stands here is carried from year to year.
pub fn years(entries: &[Entry], zone: &TimeZone, until: i16) -> Vec<i16> {
    let of = |entry: &Entry| entry.happened_at.local(zone).date().year();
    let (first, last) = (standing(entries).map(of).min(), standing(entries).map(of).max());
    first.zip(last).map_or(Vec::new(), |(first, last)| (first..=last.max(until)).collect())
}

/// What each vessel of waste holds, by its label or by the kind of the bath.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Kinds {
    /// Of containers.
    pub containers: BTreeMap<ContainerId, Contents>,
    /// Of batches: what they are when they are waste.
    pub batches: BTreeMap<BatchId, Contents>,
}

impl Kinds {
    fn of_container(&self, account: Account) -> Option<Contents> {
        account.container().and_then(|id| self.containers.get(&id).copied())
    }

    fn of_batch(&self, account: Account) -> Option<Contents> {
        account.batch().and_then(|id| self.batches.get(&id).copied())
    }
}

/// Works a year out from every entry of waste, whenever it was written: what touches a container, and what
/// was discharged from a bath. What was taken back never happened.
pub fn statement(year: i16, entries: &[Entry], kinds: &Kinds, zone: &TimeZone) -> YearStatement {
    let mut lines: BTreeMap<Contents, Line> = BTreeMap::new();
    for entry in standing(entries) {
        let in_year = entry.happened_at.local(zone).date().year();
        if in_year > year {
            continue;
        }
        let (from, to) = (kinds.of_container(entry.from), kinds.of_container(entry.to));
        for (kind, other, sign) in [(to, from, 1), (from, to, -1)] {
            let Some(kind) = kind else { continue };
            let line = lines.entry(kind).or_default();
            let amount = if sign > 0 { entry.amount } else { Amount::NOTHING - entry.amount };
            line.end += amount;
            if in_year < year {
                line.start += amount;
            } else if other == Some(kind) {
                // within the kind: it cancels
            } else if other.is_some() {
                line.from_other_kinds += amount;
            } else {
                book(line, if sign > 0 { entry.from } else { entry.to }, amount);
            }
        }
        // from a tray to where it was let go, without standing in a container: waste all the same
        let let_go = kinds.of_batch(entry.from).filter(|_| entry.to == Account::Discharged && in_year == year);
        if let Some(kind) = let_go {
            let line = lines.entry(kind).or_default();
            line.generated += entry.amount;
            line.discharged += entry.amount;
        }
    }
    lines.retain(|_, line| *line != Line::default());
    for (id, kind) in &kinds.containers {
        let Some(line) = lines.get_mut(kind).filter(|line| !line.silver_unknown) else { continue };
        line.silver_unknown = was_unknown(Vessel::Container(*id), year, entries, zone);
    }
    YearStatement::of(year, lines.into_iter().collect())
}

/// Whether the silver of a container was not known at the start of a year, at its end, or when something
/// moved in it.
fn was_unknown(vessel: Vessel, year: i16, entries: &[Entry], zone: &TimeZone) -> bool {
    let year_of = |entry: &Entry| entry.happened_at.local(zone).date().year();
    let theirs: Vec<Entry> = standing(entries).filter(|entry| entry.touches(vessel)).cloned().collect();
    let until = |year: i16| -> Vec<Entry> { theirs.iter().filter(|one| year_of(one) <= year).cloned().collect() };
    let stood_unknown = |entries: &[Entry]| {
        let held = entries.iter().map(|entry| entry.effect_on(vessel)).fold(Amount::NOTHING, Add::add);
        !held.silver.is_none() && basis_of(vessel, entries) == Basis::Unknown
    };
    theirs.iter().any(|entry| year_of(entry) == year && entry.basis == Basis::Unknown)
        || stood_unknown(&until(year - 1))
        || stood_unknown(&until(year))
}

/// What came from an end of the book (above zero) or went to it (below zero).
fn book(line: &mut Line, end: Account, amount: Amount) {
    let gone = Amount::NOTHING - amount;
    match end {
        Account::Removed => line.removed += gone,
        Account::Recovered => line.recovered += gone,
        Account::Discharged => line.discharged += gone,
        Account::WrittenOff => line.written_off += gone,
        Account::Mixed
        | Account::Water
        | Account::Paper
        | Account::Opening
        | Account::Wash
        | Account::Store(Vessel::Batch(_)) => {
            line.generated += amount;
        }
        Account::Store(Vessel::Container(_)) => line.from_other_kinds += amount,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        book::{MovementKind, Silver},
        ids::{BatchId, Id, MovementId, PersonId},
        instant::Instant,
    };
    use proptest::prelude::*;
    use uuid::Uuid;

    fn can(number: u128) -> Account {
        Vessel::Container(ContainerId::from_uuid(Uuid::from_u128(number))).into()
    }

    fn batch() -> Account {
        Vessel::Batch(BatchId::from_uuid(Uuid::from_u128(9))).into()
    }

    fn kinds() -> Kinds {
        let id = |number| ContainerId::from_uuid(Uuid::from_u128(number));
        let kinds = [(id(1), Contents::SpentFixer), (id(2), Contents::SpentFixer), (id(3), Contents::Developer)];
        let batch = BatchId::from_uuid(Uuid::from_u128(9));
        Kinds { containers: BTreeMap::from(kinds), batches: BTreeMap::from([(batch, Contents::SpentFixer)]) }
    }

    fn entry(number: i64, when: &str, from: Account, to: Account, volume_ul: i64, silver_ug: i64) -> Entry {
        let at = Instant::from_local(when, &TimeZone::UTC).expect("a time");
        Entry {
            number,
            movement: MovementId::from_uuid(Uuid::nil()),
            happened_at: at,
            recorded_at: at,
            kind: MovementKind::Pouring,
            from,
            to,
            amount: Amount { volume_ul, silver: Silver::exactly(silver_ug) },
            basis: Basis::Volume,
            reverses: None,
            recorded_by: PersonId::from_uuid(Uuid::nil()),
            remark: String::new(),
        }
    }

    #[test]
    fn a_year_says_what_was_there_what_came_what_went_and_what_is_left() {
        let entries = [
            entry(1, "2025-11-02T10:00", batch(), can(1), 4_000, 900),
            entry(2, "2026-02-02T10:00", batch(), can(1), 3_000, 600),
            entry(3, "2026-03-02T10:00", can(1), can(2), 1_000, 200),
            entry(4, "2026-04-02T10:00", can(1), Account::Removed, 6_000, 1_300),
            entry(5, "2026-05-02T10:00", can(2), Account::Recovered, 0, 50),
            entry(6, "2027-01-02T10:00", batch(), can(2), 500, 10),
        ];
        assert_eq!(years(&entries, &TimeZone::UTC, 2026), [2025, 2026, 2027]);
        assert_eq!(years(&entries, &TimeZone::UTC, 2029), [2025, 2026, 2027, 2028, 2029]);
        let carried = statement(2029, &entries, &kinds(), &TimeZone::UTC).total;
        assert_eq!((carried.start, carried.generated), (carried.end, Amount::NOTHING), "carried over");
        assert_eq!(carried.end.volume_ul, 1_500);
        let said = statement(2026, &entries, &kinds(), &TimeZone::UTC);
        assert_eq!(said.lines.len(), 1);
        let line = said.lines[0].1;
        assert_eq!((line.start.volume_ul, line.generated.volume_ul, line.removed.volume_ul), (4_000, 3_000, 6_000));
        assert_eq!((line.recovered.silver.best_ug, line.end.volume_ul, line.end.silver.best_ug), (50, 1_000, 150));
        assert!(line.balances(), "{line:?}");
    }

    #[test]
    fn what_was_taken_back_counts_in_no_year_and_a_bath_let_go_counts_as_generated_and_discharged() {
        let taken_back = entry(2, "2026-02-02T10:00", can(1), Account::Removed, 4_000, 900);
        let reversal = Entry {
            reverses: Some(2),
            kind: MovementKind::Reversal,
            ..entry(3, "2027-02-02T10:00", Account::Removed, can(1), 4_000, 900)
        };
        let entries = [
            entry(1, "2025-11-02T10:00", batch(), can(1), 4_000, 900),
            taken_back,
            reversal,
            entry(4, "2026-03-02T10:00", batch(), Account::Discharged, 500, 7),
        ];
        let line = |year| statement(year, &entries, &kinds(), &TimeZone::UTC).total;
        assert_eq!((line(2026).removed, line(2027).removed), (Amount::NOTHING, Amount::NOTHING));
        assert_eq!((line(2026).end.volume_ul, line(2027).end.volume_ul), (4_000, 4_000));
        let said = line(2026);
        assert_eq!(
            (said.generated.volume_ul, said.discharged.volume_ul, said.discharged.silver.best_ug),
            (500, 500, 7)
        );
        assert!(said.balances() && line(2027).balances());
        assert_eq!(line(2027).discharged, Amount::NOTHING);
        let as_given = statement(2026, &entries[..2], &kinds(), &TimeZone::UTC);
        let changed = statement(2026, &entries, &kinds(), &TimeZone::UTC).changed_since(&as_given);
        let figures: Vec<Figure> = changed.iter().map(|change| change.figure).collect();
        assert_eq!(figures, [Figure::Generated, Figure::Removed, Figure::Discharged, Figure::End]);
        assert_eq!((changed[1].was.volume_ul, changed[1].is.volume_ul), (4_000, 0));
    }

    #[test]
    fn a_container_of_unknown_silver_marks_its_lines_until_it_is_read_or_gone() {
        let opened = Entry {
            kind: MovementKind::Opening,
            basis: Basis::Unknown,
            amount: Amount { volume_ul: 2_000, silver: Silver { best_ug: 0, low_ug: 0, high_ug: 30 } },
            ..entry(1, "2025-11-02T10:00", Account::Opening, can(1), 0, 0)
        };
        let left = Entry {
            kind: MovementKind::Removal,
            basis: Basis::Unknown,
            amount: opened.amount,
            ..entry(2, "2027-04-02T10:00", can(1), Account::Removed, 0, 0)
        };
        let other = entry(3, "2025-12-02T10:00", batch(), can(3), 500, 10);
        let entries = [opened.clone(), left, other.clone()];
        let unknown = |entries: &[Entry], year| {
            let said = statement(year, entries, &kinds(), &TimeZone::UTC);
            (said.lines.iter().map(|(_, line)| line.silver_unknown).collect::<Vec<_>>(), said.total.silver_unknown)
        };
        for year in [2025, 2026, 2027] {
            let (lines, total) = unknown(&entries, year);
            assert_eq!((lines.iter().filter(|line| **line).count(), total), (1, true), "{year}: not the developer");
        }
        assert_eq!(unknown(&entries, 2028), (vec![false], false), "gone");
        let read = Entry {
            kind: MovementKind::Reading,
            basis: Basis::Laboratory,
            amount: Amount::silver(Silver { best_ug: 12, low_ug: 12, high_ug: -18 }),
            ..entry(2, "2026-02-02T10:00", Account::Paper, can(1), 0, 0)
        };
        let entries = [opened, read, other];
        assert!(unknown(&entries, 2026).1, "at its start nobody knew it");
        assert!(!unknown(&entries, 2027).1);
    }

    fn account() -> impl Strategy<Value = Account> {
        prop_oneof![
            Just(can(1)),
            Just(can(2)),
            Just(can(3)),
            Just(batch()),
            Just(Account::Paper),
            Just(Account::Water),
            Just(Account::Wash),
            Just(Account::Opening),
            Just(Account::Removed),
            Just(Account::Recovered),
            Just(Account::Discharged),
            Just(Account::WrittenOff),
        ]
    }

    proptest! {
        #[test]
        fn every_line_balances_and_a_year_begins_as_the_last_one_ended(
            moves in prop::collection::vec((account(), account(), 0..9_000i64, 0..900i64, 2024..2029i16, 1..13u8), 0..60),
        ) {
            let entries: Vec<Entry> = moves
                .into_iter()
                .filter(|(from, to, ..)| from != to)
                .enumerate()
                .map(|(number, (from, to, volume, silver, year, month))| {
                    entry(number as i64 + 1, &format!("{year}-{month:02}-15T12:00"), from, to, volume, silver)
                })
                .collect();
            let mut last: Option<YearStatement> = None;
            for year in 2024..2029 {
                let said = statement(year, &entries, &kinds(), &TimeZone::UTC);
                for (kind, line) in &said.lines {
                    prop_assert!(line.balances(), "{:?} {}: {:?}", kind, year, line);
                }
                prop_assert!(said.total.balances());
                prop_assert_eq!(said.total.from_other_kinds, Amount::NOTHING, "between kinds it cancels");
                if let Some(last) = last {
                    prop_assert_eq!(last.total.end, said.total.start);
                }
                last = Some(said);
            }
        }
    }
}
