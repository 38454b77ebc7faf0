//! Every time a container was marked full or moved, or that was taken back. What holds now stands on
//! the container itself; nothing of this is written over.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{ClockMarkId, ContainerId, PersonId},
    instant::Instant,
    site::site_rule::RuleClock,
};

use crate::store::Error;

/// A mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClockMark {
    /// Which clock: full, or moved.
    pub clock: RuleClock,
    /// When it began; `None`: not after all.
    pub began_at: Option<Instant>,
    /// Who marked it.
    pub recorded_by: PersonId,
    /// When that was written here.
    pub recorded_at: Instant,
}

/// Stores a mark.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(
    tx: &mut SqliteConnection,
    id: ClockMarkId,
    container: ContainerId,
    mark: &ClockMark,
) -> Result<(), Error> {
    let clock = mark.clock.as_str();
    sqlx::query!(
        "INSERT INTO container_clock (id, container_id, clock, began_at, recorded_by, recorded_at)
         VALUES (?, ?, ?, ?, ?, ?)",
        id,
        container,
        clock,
        mark.began_at,
        mark.recorded_by,
        mark.recorded_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The marks of a container, oldest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of(conn: &mut SqliteConnection, container: ContainerId) -> Result<Vec<ClockMark>, Error> {
    let rows = sqlx::query!(
        "SELECT id, clock, began_at, recorded_by, recorded_at FROM container_clock
         WHERE container_id = ? ORDER BY recorded_at, id",
        container
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter()
        .map(|row| {
            let wrong = || Error::Inconsistent { table: "container_clock", column: "clock", id: row.id.to_string() };
            Ok(ClockMark {
                clock: RuleClock::from_word(&row.clock).ok_or_else(wrong)?,
                began_at: row.began_at,
                recorded_by: row.recorded_by,
                recorded_at: row.recorded_at,
            })
        })
        .collect()
}
