//! Readings of silver, beside the estimate of the book at that time.

use sqlx::SqliteConnection;

use crate::domain::{
    book::{Account, Silver, Vessel},
    ids::{BatchId, ContainerId, MovementId, ReadingId},
    waste::reading::{Method, Reading},
};

use crate::store::Error;

struct ReadingRow {
    id: ReadingId,
    movement_id: MovementId,
    batch_id: Option<BatchId>,
    container_id: Option<ContainerId>,
    method: String,
    ug_per_l: i64,
    low_ug_per_l: i64,
    high_ug_per_l: i64,
    book_ug: i64,
}

impl TryFrom<ReadingRow> for Reading {
    type Error = Error;
    fn try_from(row: ReadingRow) -> Result<Self, Error> {
        let wrong = |column| Error::Inconsistent { table: "silver_reading", column, id: row.id.to_string() };
        let vessel = match (row.batch_id, row.container_id) {
            (Some(id), None) => Vessel::Batch(id),
            (None, Some(id)) => Vessel::Container(id),
            _ => return Err(wrong("batch_id")),
        };
        Ok(Self {
            id: row.id,
            movement: row.movement_id,
            vessel,
            method: Method::from_word(&row.method).ok_or_else(|| wrong("method"))?,
            ug_per_l: Silver { best_ug: row.ug_per_l, low_ug: row.low_ug_per_l, high_ug: row.high_ug_per_l },
            book_ug: row.book_ug,
        })
    }
}

/// Stores a reading whose movement is booked.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn insert(tx: &mut SqliteConnection, reading: &Reading) -> Result<(), Error> {
    let account = Account::from(reading.vessel);
    let (batch, container, method) = (account.batch(), account.container(), reading.method.as_str());
    let Silver { best_ug, low_ug, high_ug } = reading.ug_per_l;
    sqlx::query!(
        "INSERT INTO silver_reading (id, movement_id, batch_id, container_id, method, ug_per_l, low_ug_per_l,
             high_ug_per_l, book_ug)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        reading.id,
        reading.movement,
        batch,
        container,
        method,
        best_ug,
        low_ug,
        high_ug,
        reading.book_ug
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The readings of a vessel, oldest first, those taken back among them.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of(conn: &mut SqliteConnection, vessel: Vessel) -> Result<Vec<Reading>, Error> {
    let account = Account::from(vessel);
    let (batch, container) = (account.batch(), account.container());
    let rows = sqlx::query_as!(
        ReadingRow,
        "SELECT id, movement_id, batch_id, container_id, method, ug_per_l, low_ug_per_l, high_ug_per_l, book_ug
         FROM silver_reading WHERE batch_id = ? OR container_id = ?
         ORDER BY (SELECT min(entry) FROM book_entry WHERE movement_id = silver_reading.movement_id)",
        batch,
        container
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Reading::try_from).collect()
}
