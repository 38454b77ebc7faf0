//! Which batch stands, or stood, in which tray.

use sqlx::SqliteConnection;

use crate::domain::{
    baths::batch::{Slot, Stay},
    ids::{BatchId, TrayLineId, TraySlotId},
    instant::Instant,
};

use crate::store::Error;

struct StayRow {
    tray_line_id: TrayLineId,
    slot: String,
    batch_id: BatchId,
    from_at: Instant,
    to_at: Option<Instant>,
}

impl TryFrom<StayRow> for Stay {
    type Error = Error;
    fn try_from(row: StayRow) -> Result<Self, Error> {
        let wrong = || Error::Inconsistent { table: "tray_slot", column: "slot", id: row.batch_id.to_string() };
        Ok(Self {
            tray_line: row.tray_line_id,
            slot: Slot::from_word(&row.slot).ok_or_else(wrong)?,
            batch: row.batch_id,
            from: row.from_at,
            to: row.to_at,
        })
    }
}

fn stays(rows: Vec<StayRow>) -> Result<Vec<Stay>, Error> {
    let mut stays = rows.into_iter().map(Stay::try_from).collect::<Result<Vec<_>, _>>()?;
    stays.sort_by_key(|stay| (stay.slot, stay.from));
    Ok(stays)
}

/// What stood in a tray line at a moment, in the order of the trays.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_standing(
    conn: &mut SqliteConnection,
    tray_line: TrayLineId,
    at: Instant,
) -> Result<Vec<Stay>, Error> {
    let rows = sqlx::query_as!(
        StayRow,
        "SELECT tray_line_id, slot, batch_id, from_at, to_at FROM tray_slot
         WHERE tray_line_id = ?1 AND from_at <= ?2 AND (to_at IS NULL OR to_at > ?2)",
        tray_line,
        at
    )
    .fetch_all(conn)
    .await?;
    stays(rows)
}

/// What stands in all tray lines now.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_current(conn: &mut SqliteConnection) -> Result<Vec<Stay>, Error> {
    let rows = sqlx::query_as!(
        StayRow,
        "SELECT tray_line_id, slot, batch_id, from_at, to_at FROM tray_slot WHERE to_at IS NULL"
    )
    .fetch_all(conn)
    .await?;
    stays(rows)
}

/// Where a batch stood, oldest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_batch(conn: &mut SqliteConnection, batch: BatchId) -> Result<Vec<Stay>, Error> {
    let rows = sqlx::query_as!(
        StayRow,
        "SELECT tray_line_id, slot, batch_id, from_at, to_at FROM tray_slot WHERE batch_id = ? ORDER BY from_at, id",
        batch
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Stay::try_from).collect()
}

/// What stood in one tray, ever.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_slot(conn: &mut SqliteConnection, line: TrayLineId, slot: Slot) -> Result<Vec<Stay>, Error> {
    let word = slot.as_str();
    let rows = sqlx::query_as!(
        StayRow,
        "SELECT tray_line_id, slot, batch_id, from_at, to_at FROM tray_slot
         WHERE tray_line_id = ? AND slot = ? ORDER BY from_at, id",
        line,
        word
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Stay::try_from).collect()
}

/// Sets a batch into a tray. Whatever stands there is taken out first, by [`update_taken_out`].
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, id: TraySlotId, stay: &Stay) -> Result<(), Error> {
    let slot = stay.slot.as_str();
    sqlx::query!(
        "INSERT INTO tray_slot (id, tray_line_id, slot, batch_id, from_at, to_at) VALUES (?, ?, ?, ?, ?, ?)",
        id,
        stay.tray_line,
        slot,
        stay.batch,
        stay.from,
        stay.to
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Takes a batch out of the tray it stands in, if it stands in one; gives whether it did.
///
/// # Errors
/// When the database cannot be used, or `at` lies before it was set in.
pub async fn update_taken_out(tx: &mut SqliteConnection, batch: BatchId, at: Instant) -> Result<bool, Error> {
    let done = sqlx::query!("UPDATE tray_slot SET to_at = ? WHERE batch_id = ? AND to_at IS NULL", at, batch)
        .execute(tx)
        .await?;
    Ok(done.rows_affected() > 0)
}
