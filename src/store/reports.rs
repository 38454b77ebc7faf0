//! Students' reports.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{LabSessionId, ReportId, StudentId},
    instant::Instant,
    report::{Report, ReportState},
};

use super::Error;

struct ReportRow {
    id: ReportId,
    lab_session_id: LabSessionId,
    student_id: StudentId,
    body: String,
    state: String,
    submitted_at: Option<Instant>,
    saved_at: Instant,
    version: i64,
}

impl TryFrom<ReportRow> for Report {
    type Error = Error;
    fn try_from(row: ReportRow) -> Result<Self, Error> {
        let state = match (row.state.as_str(), row.submitted_at) {
            ("draft", None) => ReportState::Draft,
            ("submitted", Some(at)) => ReportState::Submitted { at },
            _ => return Err(Error::Inconsistent { table: "report", column: "state", id: row.id.to_string() }),
        };
        Ok(Self {
            id: row.id,
            session: row.lab_session_id,
            student: row.student_id,
            body: row.body,
            state,
            saved_at: row.saved_at,
            version: row.version,
        })
    }
}

/// A student's report on a session.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(
    conn: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
) -> Result<Option<Report>, Error> {
    let row = sqlx::query_as!(
        ReportRow,
        "SELECT id, lab_session_id, student_id, body, state, submitted_at, saved_at, version
         FROM report WHERE lab_session_id = ? AND student_id = ?",
        session,
        student
    )
    .fetch_optional(conn)
    .await?;
    row.map(Report::try_from).transpose()
}

/// A session's reports, drafts too: who shows them leaves the drafts out.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_session(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<Report>, Error> {
    let rows = sqlx::query_as!(
        ReportRow,
        "SELECT id, lab_session_id, student_id, body, state, submitted_at, saved_at, version
         FROM report WHERE lab_session_id = ? ORDER BY saved_at, id",
        session
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Report::try_from).collect()
}

/// Whether anybody has given this student a mark or a comment in a session.
///
/// # Errors
/// When the database cannot be used.
pub async fn is_marked(conn: &mut SqliteConnection, session: LabSessionId, student: StudentId) -> Result<bool, Error> {
    let found = sqlx::query_scalar!(
        "SELECT EXISTS (SELECT 1 FROM mark WHERE lab_session_id = ?1 AND student_id = ?2
                            AND (points_milli IS NOT NULL OR comment <> ''))
             OR EXISTS (SELECT 1 FROM mark_sheet WHERE lab_session_id = ?1 AND student_id = ?2
                            AND (released_at IS NOT NULL OR comment <> '')) AS \"marked!: i64\"",
        session,
        student
    )
    .fetch_one(conn)
    .await?;
    Ok(found != 0)
}

/// Stores a new report.
///
/// # Errors
/// [`Error::Constraint`] when the student has one on this session already.
pub async fn insert(tx: &mut SqliteConnection, report: &Report) -> Result<(), Error> {
    let (state, submitted_at) = columns(report.state);
    sqlx::query!(
        "INSERT INTO report (id, lab_session_id, student_id, body, state, submitted_at, saved_at)
         VALUES (?, ?, ?, ?, ?, ?, ?)",
        report.id,
        report.session,
        report.student,
        report.body,
        state,
        submitted_at,
        report.saved_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores a changed report if its version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, report: &Report) -> Result<bool, Error> {
    let (state, submitted_at) = columns(report.state);
    let done = sqlx::query!(
        "UPDATE report SET body = ?, state = ?, submitted_at = ?, saved_at = ?, version = version + 1
         WHERE id = ? AND version = ?",
        report.body,
        state,
        submitted_at,
        report.saved_at,
        report.id,
        report.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

fn columns(state: ReportState) -> (&'static str, Option<Instant>) {
    match state {
        ReportState::Draft => ("draft", None),
        ReportState::Submitted { at } => ("submitted", Some(at)),
    }
}
