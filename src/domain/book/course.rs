//! The book as it happened: its entries in the order of events, and what stood in a vessel after each.
//!
//! The order as written is that of the entries' numbers. The order as it happened is that of
//! `happened_at`, and there an entry that was taken back and its reversal cancel: neither happened.
//! People type a time to the minute and pages note it to the second, so that within a minute the numbers
//! decide: what was written first happened first. That makes the order total, and a pour typed as 14:30
//! after a sheet of 14:30:42 comes after the sheet.

use std::collections::BTreeMap;

use crate::domain::instant::Instant;

use super::{Amount, Entry, MovementKind, Vessel, standing};

/// The minute a moment lies in, counted from 1970: the finest that the order of events knows.
pub fn minute(at: Instant) -> i64 {
    at.as_micros().div_euclid(60_000_000)
}

/// What happened and stands, oldest first.
pub fn as_it_happened(entries: &[Entry]) -> Vec<&Entry> {
    let mut order: Vec<&Entry> = standing(entries).collect();
    order.sort_by_key(|entry| (minute(entry.happened_at), entry.number));
    order
}

/// Every entry in the order of events, what was taken back followed by what took it back, at the time of
/// the former: for papers on which corrections stay visible.
pub fn with_corrections(entries: &[Entry]) -> Vec<&Entry> {
    let by_number: BTreeMap<i64, &Entry> = entries.iter().map(|entry| (entry.number, entry)).collect();
    let mut order: Vec<&Entry> = entries.iter().collect();
    order.sort_by_key(|entry| {
        let original = entry.reverses.and_then(|number| by_number.get(&number).copied()).unwrap_or(entry);
        (minute(original.happened_at), original.number, entry.number)
    });
    order
}

/// What stood in a vessel after an entry.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step<'a> {
    /// The entry.
    pub entry: &'a Entry,
    /// What then stood there.
    pub after: Amount,
}

/// What stood in a vessel over time.
pub fn course(vessel: Vessel, entries: &[Entry]) -> Vec<Step<'_>> {
    let mut after = Amount::NOTHING;
    let touching = as_it_happened(entries).into_iter().filter(|entry| entry.touches(vessel));
    touching
        .map(|entry| {
            after += entry.effect_on(vessel);
            Step { entry, after }
        })
        .collect()
}

/// What stood in a vessel at a moment, after everything that happened until then, whenever it was
/// written down.
pub fn stood_at(vessel: Vessel, entries: &[Entry], at: Instant) -> Amount {
    let until = standing(entries).filter(|entry| minute(entry.happened_at) <= minute(at));
    until.fold(Amount::NOTHING, |sum, entry| sum + entry.effect_on(vessel))
}

/// The least that stood in a vessel from a moment on, each of the four figures for itself: so much can be
/// taken out at that moment and nothing later becomes impossible.
pub fn least_since(vessel: Vessel, entries: &[Entry], at: Instant) -> Amount {
    let after = course(vessel, entries).into_iter().filter(|step| minute(step.entry.happened_at) > minute(at));
    after.fold(stood_at(vessel, entries, at), |least, step| least.least(step.after))
}

/// The first entry that stands and happened after a moment, in a later minute.
pub fn first_after(vessel: Vessel, entries: &[Entry], at: Instant) -> Option<&Entry> {
    let later = as_it_happened(entries).into_iter().filter(|entry| entry.touches(vessel));
    later.into_iter().find(|entry| minute(entry.happened_at) > minute(at))
}

/// An instant at which a vessel would hold less than nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Impossible {
    /// The entry after which it would.
    pub entry: i64,
    /// What kind of movement that is.
    pub kind: MovementKind,
    /// When it happened.
    pub at: Instant,
    /// What would stand there.
    pub holds: Amount,
    /// The first figure below zero, in words.
    pub what: &'static str,
}

/// The first instant that a change of the book makes impossible: where a figure falls below zero that did
/// not before, or further than before. What a book of old had wrong already can so be put right.
pub fn made_impossible(vessel: Vessel, before: &[Entry], with: &[Entry]) -> Option<Impossible> {
    let was: BTreeMap<i64, Amount> =
        course(vessel, before).into_iter().map(|step| (step.entry.number, step.after)).collect();
    let mut last = Amount::NOTHING;
    course(vessel, with).into_iter().find_map(|Step { entry, after }| {
        let compared = was.get(&entry.number).copied().unwrap_or(last);
        last = after;
        let figures = after.figures().into_iter().zip(compared.figures());
        let what = figures.into_iter().find(|((now, _), (was, _))| *now < 0 && now < was).map(|((_, what), _)| what)?;
        Some(Impossible { entry: entry.number, kind: entry.kind, at: entry.happened_at, holds: after, what })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        book::{Account, Basis, Silver},
        ids::{ContainerId, Id, MovementId, PersonId},
    };
    use uuid::Uuid;

    fn can() -> Vessel {
        Vessel::Container(ContainerId::from_uuid(Uuid::from_u128(1)))
    }

    fn second(seconds: i64) -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range").plus_micros(seconds * 1_000_000)
    }

    fn entry(number: i64, at: i64, volume_ul: i64, silver_ug: i64, reverses: Option<i64>) -> Entry {
        let (store, water) = (Account::from(can()), Account::Water);
        let (from, to) = if volume_ul < 0 { (store, Account::WrittenOff) } else { (water, store) };
        let amount = Amount { volume_ul: volume_ul.abs(), silver: Silver::exactly(silver_ug) };
        Entry {
            number,
            movement: MovementId::from_uuid(Uuid::from_u128(number as u128)),
            happened_at: second(at),
            recorded_at: second(90_000),
            kind: if reverses.is_some() { MovementKind::Reversal } else { MovementKind::Spill },
            from,
            to,
            amount,
            basis: Basis::Stated,
            reverses,
            recorded_by: PersonId::from_uuid(Uuid::nil()),
            remark: String::new(),
        }
    }

    fn numbers(order: &[&Entry]) -> Vec<i64> {
        order.iter().map(|entry| entry.number).collect()
    }

    #[test]
    fn within_a_minute_the_numbers_decide_and_what_was_taken_back_never_happened() {
        // 3 was noted at 42 seconds, 4 typed as that minute; 5 takes 2 back
        let book = [
            entry(1, 0, 10, 0, None),
            entry(2, 600, 5, 0, None),
            entry(3, 642, 10, 0, None),
            entry(4, 600, -15, 0, None),
            entry(5, 90_000, -5, 0, Some(2)),
            entry(6, 60, 1, 0, None),
        ];
        assert_eq!(numbers(&as_it_happened(&book)), [1, 6, 3, 4]);
        assert_eq!(numbers(&with_corrections(&book)), [1, 6, 2, 5, 3, 4]);
        let stood: Vec<i64> = course(can(), &book).iter().map(|step| step.after.volume_ul).collect();
        assert_eq!(stood, [10, 11, 21, 6]);
        assert_eq!(stood_at(can(), &book, second(610)).volume_ul, 6, "of a whole minute");
        assert_eq!(stood_at(can(), &book, second(599)).volume_ul, 11);
        assert_eq!(least_since(can(), &book, second(599)).volume_ul, 6);
        assert_eq!(first_after(can(), &book, second(60)).map(|entry| entry.number), Some(3));
    }

    #[test]
    fn the_first_instant_that_becomes_impossible_is_found() {
        let before = [entry(1, 0, 10, 8, None), entry(2, 600, -4, 6, None), entry(3, 1_200, 10, 8, None)];
        let late = |volume, silver| [before.as_slice(), &[entry(4, 60, volume, silver, None)]].concat();
        assert_eq!(made_impossible(can(), &before, &late(-6, 2)), None);
        let volume = made_impossible(can(), &before, &late(-7, 0)).expect("3 are left for a spill of 4");
        assert_eq!((volume.entry, volume.what, volume.holds.volume_ul), (2, "volume", -1));
        let silver = made_impossible(can(), &before, &late(-1, 3)).expect("5 are left for 6");
        assert_eq!((silver.entry, silver.what, silver.at), (2, "silver", second(600)));
    }

    #[test]
    fn what_was_wrong_already_is_no_hindrance_to_putting_it_right() {
        let wrong = [entry(1, 600, 10, 0, None), entry(2, 60, -4, 0, None)];
        let with = |more: Entry| [wrong.as_slice(), &[more]].concat();
        assert_eq!(made_impossible(can(), &wrong, &with(entry(3, 0, 2, 0, None))), None, "2 of the 4");
        assert_eq!(made_impossible(can(), &wrong, &with(entry(3, 900, -1, 0, None))), None, "later");
        assert!(made_impossible(can(), &wrong, &with(entry(3, 0, -1, 0, None))).is_some(), "still worse");
    }
}
