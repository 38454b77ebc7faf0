//! Pictures in reports.

use sqlx::SqliteConnection;

use crate::domain::{
    field_errors::FieldErrors,
    ids::{ExposureId, LabSessionId, PictureId, ReportId, StudentId},
    instant::Instant,
    marking::report::ReportPicture,
};

use crate::store::Error;

/// A picture's bytes and their kind.
pub struct PictureBytes {
    /// `image/jpeg` or `image/png`.
    pub media_type: String,
    /// The encoded picture.
    pub bytes: Vec<u8>,
}

/// A student keeps so many pictures in all their reports.
pub const MOST_PICTURES_A_STUDENT: i64 = 60;
/// And so many bytes of them: some fifty megabytes.
pub const MOST_BYTES_A_STUDENT: i64 = 48 * 1024 * 1024;

/// What a student's pictures take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Usage {
    /// How many there are.
    pub pictures: i64,
    /// How many bytes they have together.
    pub bytes: i64,
}

impl Usage {
    /// Whether one more of so many bytes is taken.
    ///
    /// # Errors
    /// With what to do, beside the field `file`.
    pub fn takes(self, bytes: usize) -> Result<(), FieldErrors> {
        let refused = |why: String| Err(FieldErrors::one("file", format!("{why}: take one out of a report first")));
        if self.pictures >= MOST_PICTURES_A_STUDENT {
            return refused(format!("your reports show {MOST_PICTURES_A_STUDENT} pictures, which is all that fits"));
        }
        if self.bytes.saturating_add_unsigned(bytes as u64) > MOST_BYTES_A_STUDENT {
            let most = MOST_BYTES_A_STUDENT / 1024 / 1024;
            return refused(format!("your reports' pictures take {most} MB, which is all that fits"));
        }
        Ok(())
    }
}

/// What a student's pictures take in all their reports.
///
/// # Errors
/// When the database cannot be used.
pub async fn usage_of_student(conn: &mut SqliteConnection, student: StudentId) -> Result<Usage, Error> {
    let row = sqlx::query!(
        r#"SELECT count(*) AS "pictures!: i64", coalesce(sum(length(p.bytes)), 0) AS "bytes!: i64"
           FROM report_picture p JOIN report r ON r.id = p.report_id WHERE r.student_id = ?"#,
        student
    )
    .fetch_one(conn)
    .await?;
    Ok(Usage { pictures: row.pictures, bytes: row.bytes })
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
