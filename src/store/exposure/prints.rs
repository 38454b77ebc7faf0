//! Contact prints.

use sqlx::SqliteConnection;

use crate::domain::{
    exposure::print::{Print, PrintVerdict},
    ids::{ExposureId, LabSessionId, PaperId, PersonId, PrintId, StudentId},
    instant::Instant,
    measure::length::Length,
    stock::sheet::Sheet,
};

use crate::store::Error;

struct PrintRow {
    id: PrintId,
    lab_session_id: LabSessionId,
    exposure_id: ExposureId,
    student_id: Option<StudentId>,
    paper_id: PaperId,
    sheet_width_nm: i64,
    sheet_height_nm: i64,
    sheet_typed: String,
    light: String,
    made_ms: i64,
    made_at: Instant,
    verdict: Option<String>,
    remark: String,
    recorded_by: PersonId,
    recorded_at: Instant,
    version: i64,
}

impl TryFrom<PrintRow> for Print {
    type Error = Error;
    fn try_from(row: PrintRow) -> Result<Self, Error> {
        let wrong = || Error::Inconsistent { table: "print", column: "verdict", id: row.id.to_string() };
        let verdict = match &row.verdict {
            Some(word) => Some(PrintVerdict::from_word(word).ok_or_else(wrong)?),
            None => None,
        };
        Ok(Self {
            id: row.id,
            session: row.lab_session_id,
            exposure: row.exposure_id,
            student: row.student_id,
            paper: row.paper_id,
            sheet: Sheet {
                width: Length::from_nm(row.sheet_width_nm),
                height: Length::from_nm(row.sheet_height_nm),
                typed: row.sheet_typed,
            },
            light: row.light,
            made_ms: row.made_ms,
            made_at: row.made_at,
            verdict,
            remark: row.remark,
            recorded_by: row.recorded_by,
            recorded_at: row.recorded_at,
            version: row.version,
        })
    }
}

/// One print.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: PrintId) -> Result<Option<Print>, Error> {
    let row = sqlx::query_as!(PrintRow, "SELECT * FROM print WHERE id = ?", id).fetch_optional(conn).await?;
    row.map(Print::try_from).transpose()
}

/// A session's prints, in the order they were made.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_session(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<Print>, Error> {
    let rows = sqlx::query_as!(PrintRow, "SELECT * FROM print WHERE lab_session_id = ? ORDER BY made_at, id", session)
        .fetch_all(conn)
        .await?;
    rows.into_iter().map(Print::try_from).collect()
}

/// What a student may see: their own prints and those from the negatives of the camera they share
/// now, newest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_student(conn: &mut SqliteConnection, student: StudentId) -> Result<Vec<Print>, Error> {
    let rows = sqlx::query_as!(
        PrintRow,
        "SELECT * FROM print
         WHERE student_id = ?1 OR exposure_id IN (
             SELECT id FROM exposure WHERE camera_id IN
                 (SELECT camera_id FROM camera_student WHERE student_id = ?1 AND to_at IS NULL))
         ORDER BY made_at DESC, id DESC",
        student
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Print::try_from).collect()
}

/// One print, if this student may see it.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_of_student(
    conn: &mut SqliteConnection,
    id: PrintId,
    student: StudentId,
) -> Result<Option<Print>, Error> {
    let row = sqlx::query_as!(
        PrintRow,
        "SELECT * FROM print
         WHERE id = ?1 AND (student_id = ?2 OR exposure_id IN (
             SELECT id FROM exposure WHERE camera_id IN
                 (SELECT camera_id FROM camera_student WHERE student_id = ?2 AND to_at IS NULL)))",
        id,
        student
    )
    .fetch_optional(conn)
    .await?;
    row.map(Print::try_from).transpose()
}

/// How many prints were made from a negative.
///
/// # Errors
/// When the database cannot be used.
pub async fn count_of_exposure(conn: &mut SqliteConnection, exposure: ExposureId) -> Result<i64, Error> {
    let count = sqlx::query_scalar!("SELECT count(*) AS \"n!: i64\" FROM print WHERE exposure_id = ?", exposure)
        .fetch_one(conn)
        .await?;
    Ok(count)
}

/// Stores a new print.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, print: &Print) -> Result<(), Error> {
    let (width, height) = (print.sheet.width.as_nm(), print.sheet.height.as_nm());
    let verdict = print.verdict.map(PrintVerdict::as_str);
    sqlx::query!(
        "INSERT INTO print (id, lab_session_id, exposure_id, student_id, paper_id, sheet_width_nm, sheet_height_nm,
             sheet_typed, light, made_ms, made_at, verdict, remark, recorded_by, recorded_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        print.id,
        print.session,
        print.exposure,
        print.student,
        print.paper,
        width,
        height,
        print.sheet.typed,
        print.light,
        print.made_ms,
        print.made_at,
        verdict,
        print.remark,
        print.recorded_by,
        print.recorded_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores a corrected print if its version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, print: &Print) -> Result<bool, Error> {
    let (width, height) = (print.sheet.width.as_nm(), print.sheet.height.as_nm());
    let verdict = print.verdict.map(PrintVerdict::as_str);
    let done = sqlx::query!(
        "UPDATE print SET sheet_width_nm = ?, sheet_height_nm = ?, sheet_typed = ?, light = ?, made_ms = ?,
             made_at = ?, verdict = ?, remark = ?, version = version + 1
         WHERE id = ? AND version = ?",
        width,
        height,
        print.sheet.typed,
        print.light,
        print.made_ms,
        print.made_at,
        verdict,
        print.remark,
        print.id,
        print.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}
