//! Pictures in reports.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{ExposureId, LabSessionId, PictureId, ReportId, StudentId},
    instant::Instant,
    report::ReportPicture,
};

use super::Error;

/// A picture's bytes and their kind.
pub struct PictureBytes {
    /// `image/jpeg` or `image/png`.
    pub media_type: String,
    /// The encoded picture.
    pub bytes: Vec<u8>,
}

/// A report's pictures, in the order they were added; without their bytes.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, report: ReportId) -> Result<Vec<ReportPicture>, Error> {
    let rows = sqlx::query!(
        r#"SELECT p.id, p.caption, p.width_px, p.height_px, e.number AS "sheet?: i64"
           FROM report_picture p LEFT JOIN exposure e ON e.id = p.exposure_id
           WHERE p.report_id = ? ORDER BY p.added_at, p.id"#,
        report
    )
    .fetch_all(conn)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| ReportPicture {
            id: row.id,
            caption: row.caption,
            sheet: row.sheet,
            width_px: row.width_px,
            height_px: row.height_px,
        })
        .collect())
}

/// Keeps a picture.
///
/// # Errors
/// When the database cannot be used.
#[expect(clippy::too_many_arguments, reason = "one argument a column")]
pub async fn insert(
    tx: &mut SqliteConnection,
    id: PictureId,
    report: ReportId,
    exposure: Option<ExposureId>,
    caption: &str,
    media_type: &str,
    (width, height): (u32, u32),
    bytes: &[u8],
    at: Instant,
) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO report_picture (id, report_id, exposure_id, caption, media_type, width_px, height_px, bytes, added_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        id,
        report,
        exposure,
        caption,
        media_type,
        width,
        height,
        bytes,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Takes a picture out of a report; gives whether it was there.
///
/// # Errors
/// When the database cannot be used.
pub async fn delete(tx: &mut SqliteConnection, report: ReportId, id: PictureId) -> Result<bool, Error> {
    let done =
        sqlx::query!("DELETE FROM report_picture WHERE id = ? AND report_id = ?", id, report).execute(tx).await?;
    Ok(done.rows_affected() == 1)
}

/// The bytes of a picture in a student's report on a session.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_bytes(
    conn: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
    id: PictureId,
) -> Result<Option<PictureBytes>, Error> {
    let row = sqlx::query!(
        "SELECT p.media_type, p.bytes FROM report_picture p JOIN report r ON r.id = p.report_id
         WHERE p.id = ? AND r.lab_session_id = ? AND r.student_id = ?",
        id,
        session,
        student
    )
    .fetch_optional(conn)
    .await?;
    Ok(row.map(|row| PictureBytes { media_type: row.media_type, bytes: row.bytes }))
}
