//! The daily backups in a folder: their names, and which of them are kept.

use std::{collections::BTreeSet, fs, path::Path};

use jiff::civil::Date;

use crate::domain::instant::Instant;

/// Of so many weeks before the last days, the newest backup is kept.
const WEEKS: usize = 8;

/// `shimlight-2026-03-20.db`; the day is that of UTC, whatever zone the sites are in.
pub fn file_name(now: Instant) -> String {
    name_of(now.local(&jiff::tz::TimeZone::UTC).date())
}

/// What the backup of a day is called.
pub fn name_of(day: Date) -> String {
    format!("shimlight-{day}.db")
}

/// The days that have a backup in the folder; other files there are none of ours.
///
/// # Errors
/// When the folder cannot be read.
pub fn list(folder: &Path) -> std::io::Result<Vec<Date>> {
    let mut days = Vec::new();
    for entry in fs::read_dir(folder)? {
        let name = entry?.file_name().to_string_lossy().into_owned();
        let day = name.strip_prefix("shimlight-").and_then(|rest| rest.strip_suffix(".db"));
        days.extend(day.and_then(|day| day.parse::<Date>().ok()).filter(|day| name == name_of(*day)));
    }
    days.sort_unstable();
    Ok(days)
}

/// Those that go. Kept are the newest `keep`, the newest of each of the last eight weeks that have one, and the
/// newest of each year.
pub fn past_keeping(mut days: Vec<Date>, keep: u16) -> Vec<Date> {
    days.sort_unstable_by(|one, other| other.cmp(one));
    let mut kept: BTreeSet<Date> = days.iter().copied().take(usize::from(keep)).collect();
    kept.extend(
        newest_of_each(&days, |day| {
            let week = day.iso_week_date();
            (week.year(), week.week())
        })
        .into_iter()
        .take(WEEKS),
    );
    kept.extend(newest_of_each(&days, |day| (day.year(), 0)));
    days.retain(|day| !kept.contains(day));
    days.reverse();
    days
}

/// The first of each span, of days that go from new to old.
fn newest_of_each(days: &[Date], span: impl Fn(Date) -> (i16, i8)) -> Vec<Date> {
    let mut seen = BTreeSet::new();
    days.iter().copied().filter(|day| seen.insert(span(*day))).collect()
}

#[cfg(test)]
mod tests {
    use jiff::{ToSpan, civil::date};

    use super::*;

    #[test]
    fn the_newest_backups_are_kept() {
        let days = vec![date(2026, 3, 19), date(2026, 3, 21), date(2026, 3, 20)];
        assert_eq!(past_keeping(days.clone(), 2), [date(2026, 3, 19)]);
        assert!(past_keeping(days, 3).is_empty());
    }

    #[test]
    fn of_older_ones_one_a_week_and_one_a_year_stay() {
        // a backup every day of two years and a bit; a year has 365 or 366 days, a week begins on Monday
        let last = date(2026, 3, 20);
        let days: Vec<Date> = (0..800).map(|ago| last.saturating_sub(ago.days())).collect();
        let gone = past_keeping(days.clone(), 14);
        let kept: Vec<Date> = days.into_iter().filter(|day| !gone.contains(day)).collect();
        let newest = kept.iter().take(14).copied();
        assert!(newest.eq((0..14).map(|ago| last.saturating_sub(ago.days()))), "{kept:?}");
        // the fourteen days reach into three weeks: Sundays of the five before, and the last days of two years
        let older = [
            date(2026, 3, 1),
            date(2026, 2, 22),
            date(2026, 2, 15),
            date(2026, 2, 8),
            date(2026, 2, 1),
            date(2025, 12, 31),
            date(2024, 12, 31),
        ];
        assert_eq!(kept[14..], older);
        // what was thinned once stays as it is the next day
        assert!(past_keeping(kept, 14).is_empty());
    }

    #[test]
    fn other_files_in_the_folder_are_left_alone() {
        let folder = tempfile::tempdir().expect("a folder");
        for name in ["shimlight-2026-03-20.db", "shimlight-2026-03-20.db.tally", "shimlight-mine.db", "notes.txt"] {
            fs::write(folder.path().join(name), "").expect("written");
        }
        assert_eq!(list(folder.path()).expect("read"), [date(2026, 3, 20)]);
    }
}
