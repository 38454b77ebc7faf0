//! Students' reports.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{LabSessionId, QuestionId, ReportId, StudentId},
    instant::Instant,
    marking::report::{Question, Report, ReportState},
};

use crate::store::Error;

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
                            AND (points_milli IS NOT NULL OR left_out OR comment <> ''))
             OR EXISTS (SELECT 1 FROM mark_sheet WHERE lab_session_id = ?1 AND student_id = ?2
                            AND (released_at IS NOT NULL OR comment <> '' OR standing = 'excused')) AS \"marked!: i64\"",
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

/// By when a session's reports are to be handed in; `None` when no time is set.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_due(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Option<Instant>, Error> {
    let row = sqlx::query!("SELECT report_due_at FROM lab_session WHERE id = ?", session).fetch_optional(conn).await?;
    Ok(row.and_then(|row| row.report_due_at))
}

/// Sets by when a session's reports are to be handed in.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_due(tx: &mut SqliteConnection, session: LabSessionId, due: Option<Instant>) -> Result<(), Error> {
    sqlx::query!("UPDATE lab_session SET report_due_at = ? WHERE id = ?", due, session).execute(tx).await?;
    Ok(())
}

/// A session's questions, in order; those taken out only if somebody answered them.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_questions(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<Question>, Error> {
    let rows = sqlx::query!(
        "SELECT id, words, kind, unit FROM report_question
         WHERE lab_session_id = ? AND removed_at IS NULL ORDER BY position, id",
        session
    )
    .fetch_all(conn)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| Question { id: row.id, words: row.words, unit: (row.kind == "number").then_some(row.unit) })
        .collect())
}

/// Puts a session's questions in the place of those before. One that is taken out is kept for the
/// answers it has.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_questions(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    questions: &[Question],
    at: Instant,
) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE report_question SET removed_at = ? WHERE lab_session_id = ? AND removed_at IS NULL",
        at,
        session
    )
    .execute(&mut *tx)
    .await?;
    for (question, position) in questions.iter().zip(1_i64..) {
        let kind = if question.unit.is_some() { "number" } else { "text" };
        let unit = question.unit.as_deref().unwrap_or("");
        sqlx::query!(
            "INSERT INTO report_question (id, lab_session_id, position, words, kind, unit) VALUES (?, ?, ?, ?, ?, ?)
             ON CONFLICT (id) DO UPDATE SET position = excluded.position, words = excluded.words,
                 kind = excluded.kind, unit = excluded.unit, removed_at = NULL",
            question.id,
            session,
            position,
            question.words,
            kind,
            unit
        )
        .execute(&mut *tx)
        .await?;
    }
    Ok(())
}

/// A report's answers, by question.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_answers(conn: &mut SqliteConnection, report: ReportId) -> Result<HashMap<QuestionId, String>, Error> {
    let rows = sqlx::query!("SELECT question_id, answer FROM report_answer WHERE report_id = ?", report)
        .fetch_all(conn)
        .await?;
    Ok(rows.into_iter().map(|row| (row.question_id, row.answer)).collect())
}

/// Stores an answer over the one before.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_answer(
    tx: &mut SqliteConnection,
    report: ReportId,
    question: QuestionId,
    answer: &str,
) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO report_answer (report_id, question_id, answer) VALUES (?, ?, ?)
         ON CONFLICT (report_id, question_id) DO UPDATE SET answer = excluded.answer",
        report,
        question,
        answer
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Whether a question belongs to another session than this one.
///
/// # Errors
/// When the database cannot be used.
pub async fn is_question_of_another(
    conn: &mut SqliteConnection,
    question: QuestionId,
    session: LabSessionId,
) -> Result<bool, Error> {
    let row =
        sqlx::query!("SELECT lab_session_id FROM report_question WHERE id = ?", question).fetch_optional(conn).await?;
    Ok(row.is_some_and(|row| row.lab_session_id != session))
}
