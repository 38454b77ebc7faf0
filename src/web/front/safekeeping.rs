//! When the last backup was made, when one was last put back to see that it can be, and how much room the disk has.

use std::path::Path;

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::instant::Instant,
    store::{Error, people::change_log},
};

/// A backup older than this is worth a word.
const OLD_DAYS: i64 = 7;
/// A restore that was rehearsed longer ago than this is worth a word, once there are backups.
const REHEARSED_DAYS: i64 = 92;
/// Less room than this is worth a word: a season's database fits into it many times.
const LITTLE_ROOM: u64 = 500_000_000;

/// What staff should know of the file behind it all.
pub(super) struct Safekeeping {
    pub backup: String,
    pub backup_wanted: bool,
    pub rehearsal: String,
    pub rehearsal_wanted: bool,
    pub room: String,
    pub room_wanted: bool,
}

/// Looks both up.
pub(super) async fn find(
    conn: &mut SqliteConnection,
    database: &Path,
    now: Instant,
    zone: &TimeZone,
) -> Result<Safekeeping, Error> {
    let last = change_log::find_last_backup(conn).await?;
    let rehearsed = change_log::find_last_rehearsal(conn).await?;
    let room = database.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let room = fs4::available_space(room).ok();
    Ok(Safekeeping {
        backup: last.map_or_else(|| "none was made yet".to_owned(), |at| ago(at, now, zone)),
        backup_wanted: last.is_none_or(|at| now.micros_since(at) > OLD_DAYS * 86_400_000_000),
        rehearsal: rehearsed.map_or_else(|| "never yet".to_owned(), |at| ago(at, now, zone)),
        rehearsal_wanted: last.is_some()
            && rehearsed.is_none_or(|at| now.micros_since(at) > REHEARSED_DAYS * 86_400_000_000),
        room: room.map_or_else(|| "not known".to_owned(), in_words),
        room_wanted: room.is_some_and(|bytes| bytes < LITTLE_ROOM),
    })
}

/// `3 days ago, 20 Mar 2026, 14:30`.
fn ago(at: Instant, now: Instant, zone: &TimeZone) -> String {
    let hours = now.micros_since(at) / 3_600_000_000;
    let span = match hours {
        ..1 => "less than an hour ago".to_owned(),
        1 => "an hour ago".to_owned(),
        2..48 => format!("{hours} hours ago"),
        _ => format!("{} days ago", hours / 24),
    };
    format!("{span}, {}", at.as_words(zone))
}

fn in_words(bytes: u64) -> String {
    match bytes {
        ..1_000_000_000 => format!("{} MB", bytes / 1_000_000),
        1_000_000_000..10_000_000_000 => format!("{:.1} GB", bytes as f64 / 1e9),
        _ => format!("{} GB", bytes / 1_000_000_000),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_age_of_a_backup_and_the_room_on_the_disk_are_said_in_words() {
        let at = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        let later = |minutes| ago(at, at.plus_minutes(minutes), &TimeZone::UTC);
        assert_eq!(later(5), "less than an hour ago, 20 Mar 2026, 18:00");
        assert_eq!(later(61), "an hour ago, 20 Mar 2026, 18:00");
        assert_eq!(later(47 * 60), "47 hours ago, 20 Mar 2026, 18:00");
        assert_eq!(later(72 * 60), "3 days ago, 20 Mar 2026, 18:00");
        assert_eq!((in_words(420_000_000), in_words(1_250_000_000)), ("420 MB".to_owned(), "1.2 GB".to_owned()));
    }
}
