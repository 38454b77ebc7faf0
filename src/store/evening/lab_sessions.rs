//! Lab sessions.

use sqlx::SqliteConnection;

use crate::domain::{
    evening::lab_session::{LabSession, SessionState},
    ids::{LabSessionId, PaperId, RubricId, SectionId, TrayLineId},
    instant::Instant,
};

use crate::store::Error;

struct LabSessionRow {
    id: LabSessionId,
    section_id: SectionId,
    title: String,
    held_on: String,
    hole_constant_milli: i64,
    wavelength_nm: i64,
    paper_id: PaperId,
    tray_line_id: Option<TrayLineId>,
    rubric_id: Option<RubricId>,
    report_task: String,
    state: String,
    opened_at: Option<Instant>,
    closed_at: Option<Instant>,
    version: i64,
}

impl TryFrom<LabSessionRow> for LabSession {
    type Error = Error;
    fn try_from(row: LabSessionRow) -> Result<Self, Error> {
        let wrong = |column| Error::Inconsistent { table: "lab_session", column, id: row.id.to_string() };
        let state = match (row.state.as_str(), row.opened_at, row.closed_at) {
            ("planned", None, None) => SessionState::Planned,
            ("open", Some(opened_at), None) => SessionState::Open { opened_at },
            ("closed", Some(opened_at), Some(closed_at)) => SessionState::Closed { opened_at, closed_at },
            _ => return Err(wrong("state")),
        };
        Ok(Self {
            id: row.id,
            section: row.section_id,
            title: row.title,
            held_on: row.held_on.parse().map_err(|_| wrong("held_on"))?,
            hole_constant_milli: row.hole_constant_milli,
            wavelength_nm: row.wavelength_nm,
            paper: row.paper_id,
            tray_line: row.tray_line_id,
            rubric: row.rubric_id,
            report_task: row.report_task,
            state,
            version: row.version,
        })
    }
}

/// One session.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: LabSessionId) -> Result<Option<LabSession>, Error> {
    let row = sqlx::query_as!(
        LabSessionRow,
        "SELECT id, section_id, title, held_on, hole_constant_milli, wavelength_nm, paper_id, tray_line_id,
                rubric_id, report_task, state, opened_at, closed_at, version
         FROM lab_session WHERE id = ?",
        id
    )
    .fetch_optional(conn)
    .await?;
    row.map(LabSession::try_from).transpose()
}

/// The session in progress of a section.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_open(conn: &mut SqliteConnection, section: SectionId) -> Result<Option<LabSession>, Error> {
    let row = sqlx::query_as!(
        LabSessionRow,
        "SELECT id, section_id, title, held_on, hole_constant_milli, wavelength_nm, paper_id, tray_line_id,
                rubric_id, report_task, state, opened_at, closed_at, version
         FROM lab_session WHERE section_id = ? AND state = 'open'",
        section
    )
    .fetch_optional(conn)
    .await?;
    row.map(LabSession::try_from).transpose()
}

/// A section's sessions, the newest date first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, section: SectionId) -> Result<Vec<LabSession>, Error> {
    let rows = sqlx::query_as!(
        LabSessionRow,
        "SELECT id, section_id, title, held_on, hole_constant_milli, wavelength_nm, paper_id, tray_line_id,
                rubric_id, report_task, state, opened_at, closed_at, version
         FROM lab_session WHERE section_id = ? ORDER BY held_on DESC, created_at DESC",
        section
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(LabSession::try_from).collect()
}

/// Stores a new session, planned.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, session: &LabSession, at: Instant) -> Result<(), Error> {
    let held_on = session.held_on.to_string();
    sqlx::query!(
        "INSERT INTO lab_session (id, section_id, title, held_on, hole_constant_milli, wavelength_nm, paper_id,
             tray_line_id, rubric_id, report_task, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        session.id,
        session.section,
        session.title,
        held_on,
        session.hole_constant_milli,
        session.wavelength_nm,
        session.paper,
        session.tray_line,
        session.rubric,
        session.report_task,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores an edited plan if its version still stands; gives whether it did. The state is not touched.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_plan(tx: &mut SqliteConnection, session: &LabSession) -> Result<bool, Error> {
    let held_on = session.held_on.to_string();
    let done = sqlx::query!(
        "UPDATE lab_session SET title = ?, held_on = ?, hole_constant_milli = ?, wavelength_nm = ?, paper_id = ?,
             tray_line_id = ?, rubric_id = ?, report_task = ?, version = version + 1
         WHERE id = ? AND version = ?",
        session.title,
        held_on,
        session.hole_constant_milli,
        session.wavelength_nm,
        session.paper,
        session.tray_line,
        session.rubric,
        session.report_task,
        session.id,
        session.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Moves a session on in its life.
///
/// # Errors
/// [`Error::Constraint`] when the section has another session open.
pub async fn update_state(tx: &mut SqliteConnection, id: LabSessionId, state: SessionState) -> Result<(), Error> {
    let (word, opened_at, closed_at) = match state {
        SessionState::Planned => ("planned", None, None),
        SessionState::Open { opened_at } => ("open", Some(opened_at), None),
        SessionState::Closed { opened_at, closed_at } => ("closed", Some(opened_at), Some(closed_at)),
    };
    sqlx::query!(
        "UPDATE lab_session SET state = ?, opened_at = ?, closed_at = ?, version = version + 1 WHERE id = ?",
        word,
        opened_at,
        closed_at,
        id
    )
    .execute(tx)
    .await?;
    Ok(())
}
