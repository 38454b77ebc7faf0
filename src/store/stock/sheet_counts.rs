//! Sheets counted from the box in a session.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{LabSessionId, PaperId, PersonId, SheetCountId},
    instant::Instant,
    stock::sheet_count::SheetCount,
};

use crate::store::Error;

struct SheetCountRow {
    id: SheetCountId,
    lab_session_id: LabSessionId,
    paper_id: PaperId,
    size_typed: String,
    area_mm2: i64,
    at_start: i64,
    at_end: Option<i64>,
    spoilt: i64,
    remark: String,
    counted_by: PersonId,
    counted_at: Instant,
    version: i64,
}

impl From<SheetCountRow> for SheetCount {
    fn from(row: SheetCountRow) -> Self {
        Self {
            id: row.id,
            session: row.lab_session_id,
            paper: row.paper_id,
            size: row.size_typed,
            area_mm2: row.area_mm2,
            at_start: row.at_start,
            at_end: row.at_end,
            spoilt: row.spoilt,
            remark: row.remark,
            counted_by: row.counted_by,
            counted_at: row.counted_at,
            version: row.version,
        }
    }
}

/// The counts of a session, in the order they were begun.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<SheetCount>, Error> {
    let rows = sqlx::query_as!(
        SheetCountRow,
        "SELECT id, lab_session_id, paper_id, size_typed, area_mm2, at_start, at_end, spoilt, remark, counted_by,
                counted_at, version
         FROM sheet_count WHERE lab_session_id = ? ORDER BY id",
        session
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(SheetCount::from).collect())
}

/// Stores a new count.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, count: &SheetCount) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO sheet_count (id, lab_session_id, paper_id, size_typed, area_mm2, at_start, at_end, spoilt, remark,
             counted_by, counted_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        count.id,
        count.session,
        count.paper,
        count.size,
        count.area_mm2,
        count.at_start,
        count.at_end,
        count.spoilt,
        count.remark,
        count.counted_by,
        count.counted_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores an edited count if its version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, count: &SheetCount) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE sheet_count SET at_start = ?, at_end = ?, spoilt = ?, remark = ?, counted_by = ?, counted_at = ?,
             version = version + 1
         WHERE id = ? AND version = ?",
        count.at_start,
        count.at_end,
        count.spoilt,
        count.remark,
        count.counted_by,
        count.counted_at,
        count.id,
        count.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// What was recorded in a session and stands: paper, sheets, area in square millimetres.
///
/// # Errors
/// When the database cannot be used.
pub async fn recorded(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<(PaperId, i64, i64)>, Error> {
    let rows = sqlx::query!(
        r#"SELECT paper_id, sum(sheets) AS "sheets!: i64", sum(area_mm2) AS "area_mm2!: i64"
           FROM sheet_run WHERE lab_session_id = ? AND undone_at IS NULL GROUP BY paper_id"#,
        session
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(|row| (row.paper_id, row.sheets, row.area_mm2)).collect())
}
