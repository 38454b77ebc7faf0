//! A calendar year's statement of what stood in waste containers: at its start, what came in, what
//! went out by which way, at its end. By kind of contents; the kinds add up to the whole.
//!
//! 40 CFR 266.70(c) asks recyclers of precious metals for the volume at the start of the calendar
//! year, what was generated or received during it, and what was there at its end.

use std::{collections::BTreeMap, ops::Add};

use jiff::tz::TimeZone;

use super::{
    book::{Account, Amount, Basis, Entry, Vessel, basis_of, standing},
    container::Contents,
    ids::ContainerId,
};

/// One line of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Line {
    /// At the start of the year.
    pub start: Amount,
    /// Came in from batches, the wash, sheets and water (what measurements found too much), or stood
    /// there when the book was begun; net of what was taken back.
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

/// The years from the first entry on, by when it happened in the site's zone, oldest first, without
/// gaps: to the last entry, and on through `until`, since what stands here is carried from year to year.
pub fn years(entries: &[Entry], zone: &TimeZone, until: i16) -> Vec<i16> {
    let of = |entry: &Entry| entry.happened_at.local(zone).date().year();
    let (first, last) = (entries.iter().map(of).min(), entries.iter().map(of).max());
    first.zip(last).map_or(Vec::new(), |(first, last)| (first..=last.max(until)).collect())
}

/// Works a year out from every entry that touches a container, whenever it was written.
pub fn statement(
    year: i16,
    entries: &[Entry],
    contents: &BTreeMap<ContainerId, Contents>,
    zone: &TimeZone,
) -> YearStatement {
    let mut lines: BTreeMap<Contents, Line> = BTreeMap::new();
    for entry in entries {
        let in_year = entry.happened_at.local(zone).date().year();
        if in_year > year {
            continue;
        }
        let kind_of = |account: Account| account.container().and_then(|id| contents.get(&id).copied());
        let (from, to) = (kind_of(entry.from), kind_of(entry.to));
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
    }
    lines.retain(|_, line| *line != Line::default());
    for (id, kind) in contents {
        let Some(line) = lines.get_mut(kind).filter(|line| !line.silver_unknown) else { continue };
        let vessel = Vessel::Container(*id);
        let until = |year: i16| -> Vec<Entry> {
            let theirs = entries.iter().filter(|entry| entry.touches(vessel));
            theirs.filter(|entry| entry.happened_at.local(zone).date().year() <= year).cloned().collect()
        };
        let stood_unknown = |entries: &[Entry]| {
            let held = entries.iter().map(|entry| entry.effect_on(vessel)).fold(Amount::NOTHING, Add::add);
            !held.silver.is_none() && basis_of(vessel, entries) == Basis::Unknown
        };
        let (before, by_its_end) = (until(year - 1), until(year));
        let mut in_year = standing(&by_its_end).filter(|entry| entry.happened_at.local(zone).date().year() == year);
        line.silver_unknown =
            in_year.any(|entry| entry.basis == Basis::Unknown) || stood_unknown(&before) || stood_unknown(&by_its_end);
    }
    let mut total = Line::default();
    for line in lines.values() {
        total.add(line);
    }
    YearStatement { year, lines: lines.into_iter().collect(), total }
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

    fn kinds() -> BTreeMap<ContainerId, Contents> {
        let id = |number| ContainerId::from_uuid(Uuid::from_u128(number));
        BTreeMap::from([(id(1), Contents::SpentFixer), (id(2), Contents::SpentFixer), (id(3), Contents::Developer)])
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
