//! What applied to a container when it left: its rules, clocks and days, kept as they were.

use jiff::civil::Date;
use sqlx::SqliteConnection;

use crate::domain::{
    ids::RemovalId,
    waste::deadline::{Deadline, clock_named},
};

use crate::store::Error;

/// Stores what applied when a removal happened; none is kept as none.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn insert(
    tx: &mut SqliteConnection,
    removal: RemovalId,
    applied: &[Deadline],
) -> Result<(), Error> {
    for (position, deadline) in (0i64..).zip(applied) {
        let text = |date: Option<Date>| date.map(|date| date.to_string());
        let (since, by, other) = (text(deadline.since), text(deadline.by), text(deadline.by_other_reading));
        sqlx::query!(
            "INSERT INTO kept_deadline (removal_id, position, rule, source, clock, began_on, remove_by, other_reading)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            removal,
            position,
            deadline.rule,
            deadline.source,
            deadline.clock,
            since,
            by,
            other
        )
        .execute(&mut *tx)
        .await?;
    }
    sqlx::query!("UPDATE removal SET deadlines_kept = 1 WHERE id = ?", removal).execute(tx).await?;
    Ok(())
}

/// What applied to a container when it left, if that was kept: a removal from before this was kept
/// gives `None`.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of(conn: &mut SqliteConnection, removal: RemovalId) -> Result<Option<Vec<Deadline>>, Error> {
    let kept = sqlx::query_scalar!("SELECT deadlines_kept FROM removal WHERE id = ?", removal)
        .fetch_optional(&mut *conn)
        .await?;
    if kept != Some(1) {
        return Ok(None);
    }
    let rows = sqlx::query!(
        "SELECT rule, source, clock, began_on, remove_by, other_reading FROM kept_deadline
         WHERE removal_id = ? ORDER BY position",
        removal
    )
    .fetch_all(conn)
    .await?;
    let wrong = |column| Error::Inconsistent { table: "kept_deadline", column, id: removal.to_string() };
    let date =
        |text: Option<String>, column| text.map(|text| text.parse::<Date>()).transpose().map_err(|_| wrong(column));
    let deadlines = rows.into_iter().map(|row| {
        Ok(Deadline {
            rule: row.rule,
            source: row.source,
            clock: clock_named(&row.clock).ok_or_else(|| wrong("clock"))?,
            since: date(row.began_on, "began_on")?,
            by: date(row.remove_by, "remove_by")?,
            by_other_reading: date(row.other_reading, "other_reading")?,
        })
    });
    deadlines.collect::<Result<_, Error>>().map(Some)
}
