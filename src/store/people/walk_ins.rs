//! People who joined without standing on the roster.

use sqlx::SqliteConnection;

use crate::domain::{ids::SectionId, instant::Instant};

use crate::store::Error;

/// So many may join in one session: a visiting class. Past that a script is at work, or the door code went round.
pub const MOST_WALK_INS: i64 = 60;
/// Without an open session those of so many hours count.
const EVENING_HOURS: i64 = 12;

/// How many walked in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct WalkIns {
    /// Since the open session was opened, or else in the last twelve hours.
    pub in_all: i64,
    /// In the last minute.
    pub just_now: i64,
}

impl WalkIns {
    /// What the front bench is told; empty while nobody walked in.
    pub fn words(self) -> String {
        let came = match self.in_all {
            0 => return String::new(),
            1 => "1 walk-in came in".to_owned(),
            many => format!("{many} walk-ins came in"),
        };
        let just_now = match self.just_now {
            0 => String::new(),
            some => format!(", {some} of them in the last minute"),
        };
        let full = if self.in_all >= MOST_WALK_INS { "; no more are let in this session" } else { "" };
        format!("{came}{just_now}{full}.")
    }
}

/// Counts them.
///
/// # Errors
/// When the database cannot be used.
pub async fn count(conn: &mut SqliteConnection, section: SectionId, now: Instant) -> Result<WalkIns, Error> {
    let (evening, minute) = (now.plus_minutes(-EVENING_HOURS * 60), now.plus_minutes(-1));
    let row = sqlx::query!(
        r#"SELECT count(*) AS "in_all!: i64", coalesce(sum(created_at > ?), 0) AS "just_now!: i64"
           FROM student WHERE section_id = ? AND walk_in = 1 AND created_at >= coalesce(
               (SELECT opened_at FROM lab_session WHERE section_id = student.section_id AND state = 'open'), ?)"#,
        minute,
        section,
        evening
    )
    .fetch_one(conn)
    .await?;
    Ok(WalkIns { in_all: row.in_all, just_now: row.just_now })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_front_bench_is_told_of_walk_ins() {
        let said = |in_all, just_now| WalkIns { in_all, just_now }.words();
        assert_eq!(said(0, 0), "");
        assert_eq!(said(1, 0), "1 walk-in came in.");
        assert_eq!(said(12, 3), "12 walk-ins came in, 3 of them in the last minute.");
        assert_eq!(said(60, 0), "60 walk-ins came in; no more are let in this session.");
    }
}
