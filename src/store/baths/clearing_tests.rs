//! Clearing tests of fixers.

use sqlx::SqliteConnection;

use crate::domain::{
    baths::clearing::{ClearingTest, ClearingTimes},
    ids::{BatchId, ClearingTestId, PersonId},
    instant::Instant,
};

use crate::store::Error;

struct ClearingTestRow {
    id: ClearingTestId,
    batch_id: BatchId,
    fresh_ms: i64,
    now_ms: i64,
    tested_at: Instant,
    remark: String,
    undone_at: Option<Instant>,
    recorded_by: PersonId,
}

impl From<ClearingTestRow> for ClearingTest {
    fn from(row: ClearingTestRow) -> Self {
        Self {
            id: row.id,
            batch: row.batch_id,
            times: ClearingTimes { fresh_ms: row.fresh_ms, now_ms: row.now_ms },
            tested_at: row.tested_at,
            remark: row.remark,
            undone_at: row.undone_at,
            recorded_by: row.recorded_by,
        }
    }
}

/// The tests of a batch, oldest first, those taken back among them.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of(conn: &mut SqliteConnection, batch: BatchId) -> Result<Vec<ClearingTest>, Error> {
    let rows = sqlx::query_as!(
        ClearingTestRow,
        "SELECT id, batch_id, fresh_ms, now_ms, tested_at, remark, undone_at, recorded_by
         FROM clearing_test WHERE batch_id = ? ORDER BY tested_at, id",
        batch
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(ClearingTest::from).collect())
}

/// Stores a test.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, test: &ClearingTest, recorded_at: Instant) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO clearing_test (id, batch_id, fresh_ms, now_ms, tested_at, remark, recorded_by, recorded_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        test.id,
        test.batch,
        test.times.fresh_ms,
        test.times.now_ms,
        test.tested_at,
        test.remark,
        test.recorded_by,
        recorded_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Takes a test of a batch back as a mistake; gives whether it stood.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_undone(
    tx: &mut SqliteConnection,
    (batch, id): (BatchId, ClearingTestId),
    at: Instant,
) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE clearing_test SET undone_at = ? WHERE id = ? AND batch_id = ? AND undone_at IS NULL",
        at,
        id,
        batch
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}
