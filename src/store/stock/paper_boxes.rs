//! New boxes of a paper, and sheets left out of what is learned about it.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{ExposureId, LeftOutId, PaperBoxId, PaperId, PersonId},
    instant::Instant,
};

use crate::store::Error;

/// A new box of a paper.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PaperBox {
    /// Its id.
    pub id: PaperBoxId,
    /// The paper.
    pub paper: PaperId,
    /// From when on sheets come from it.
    pub begun_at: Instant,
    /// Anything said of it: an emulsion number, a date.
    pub remark: String,
    /// Who said so.
    pub recorded_by: PersonId,
    /// When.
    pub recorded_at: Instant,
    /// When it was said to be no new box after all.
    pub taken_back_at: Option<Instant>,
}

/// A sheet left out, as it stands or stood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// Its id.
    pub id: LeftOutId,
    /// The sheet.
    pub exposure: ExposureId,
    /// Why.
    pub reason: String,
    /// When.
    pub at: Instant,
}

/// The boxes of a paper, the newest first, also those taken back.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, paper: PaperId) -> Result<Vec<PaperBox>, Error> {
    let rows = sqlx::query!(
        "SELECT id, paper_id, begun_at, remark, recorded_by, recorded_at, taken_back_at FROM paper_box
         WHERE paper_id = ? ORDER BY begun_at DESC, id DESC",
        paper
    )
    .fetch_all(conn)
    .await?;
    let read = rows.into_iter().map(|row| PaperBox {
        id: row.id,
        paper: row.paper_id,
        begun_at: row.begun_at,
        remark: row.remark,
        recorded_by: row.recorded_by,
        recorded_at: row.recorded_at,
        taken_back_at: row.taken_back_at,
    });
    Ok(read.collect())
}

/// Stores a new box.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, paper_box: &PaperBox) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO paper_box (id, paper_id, begun_at, remark, recorded_by, recorded_at) VALUES (?, ?, ?, ?, ?, ?)",
        paper_box.id,
        paper_box.paper,
        paper_box.begun_at,
        paper_box.remark,
        paper_box.recorded_by,
        paper_box.recorded_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Says that a box was no new one after all; gives whether it stood until now.
///
/// # Errors
/// When the database cannot be used.
pub async fn take_back(tx: &mut SqliteConnection, id: PaperBoxId, by: PersonId, at: Instant) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE paper_box SET taken_back_at = ?, taken_back_by = ? WHERE id = ? AND taken_back_at IS NULL",
        at,
        by,
        id
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// The sheets of a paper that are left out now.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_left_out(conn: &mut SqliteConnection, paper: PaperId) -> Result<Vec<LeftOut>, Error> {
    let rows = sqlx::query!(
        "SELECT left_out.id, left_out.exposure_id, left_out.reason, left_out.left_out_at
         FROM left_out JOIN exposure ON exposure.id = left_out.exposure_id
         WHERE exposure.paper_id = ? AND left_out.taken_back_at IS NULL ORDER BY left_out.left_out_at",
        paper
    )
    .fetch_all(conn)
    .await?;
    let read = rows.into_iter().map(|row| LeftOut {
        id: row.id,
        exposure: row.exposure_id,
        reason: row.reason,
        at: row.left_out_at,
    });
    Ok(read.collect())
}

/// Leaves a sheet out.
///
/// # Errors
/// [`Error::Constraint`] when it is left out already.
pub async fn leave_out(tx: &mut SqliteConnection, left_out: &LeftOut, by: PersonId) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO left_out (id, exposure_id, reason, left_out_by, left_out_at) VALUES (?, ?, ?, ?, ?)",
        left_out.id,
        left_out.exposure,
        left_out.reason,
        by,
        left_out.at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Lets a sheet count again; gives whether it was left out until now.
///
/// # Errors
/// When the database cannot be used.
pub async fn count_again(
    tx: &mut SqliteConnection,
    exposure: ExposureId,
    by: PersonId,
    at: Instant,
) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE left_out SET taken_back_at = ?, taken_back_by = ? WHERE exposure_id = ? AND taken_back_at IS NULL",
        at,
        by,
        exposure
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}
