//! The load of batches, put together from the sheets, the silver book and the trays.

use sqlx::SqliteConnection;

use crate::domain::{batch::Batch, batch_load::BatchLoad, book::Vessel, instant::Instant};

use super::{Error, batches, book, tray_slots};

/// The load of a batch at a moment.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, batch: &Batch, now: Instant) -> Result<BatchLoad, Error> {
    let (area_mm2, _sheets) = batches::area(conn, batch.id).await?;
    let holds = book::balance(conn, Vessel::Batch(batch.id)).await?;
    let stays = tray_slots::list_of_batch(conn, batch.id).await?;
    let in_trays: i64 = stays.iter().map(|stay| stay.to.unwrap_or(now).micros_since(stay.from).max(0)).sum();
    Ok(BatchLoad::of(batch, area_mm2, holds, in_trays / 1000))
}
