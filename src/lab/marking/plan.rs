//! The session that is marked, and the rubric it is marked by.

use sqlx::SqliteConnection;

use crate::{
    domain::{evening::lab_session::LabSession, field_errors::FieldErrors, ids::LabSessionId, marking::rubric::Rubric},
    store::{Error, WriteError, evening::lab_sessions, marking::rubrics},
};

/// The session and the rubric it is marked by, if its plan names one; `None` without such a session.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(
    conn: &mut SqliteConnection,
    id: LabSessionId,
) -> Result<Option<(LabSession, Option<Rubric>)>, Error> {
    let Some(session) = lab_sessions::find(conn, id).await? else { return Ok(None) };
    let rubric = match session.rubric {
        Some(rubric) => rubrics::find(conn, rubric).await?,
        None => None,
    };
    Ok(Some((session, rubric)))
}

/// The session and its rubric, to mark by.
///
/// # Errors
/// Missing without such a session; refused while it has no rubric.
pub async fn find_to_mark(tx: &mut SqliteConnection, id: LabSessionId) -> Result<(LabSession, Rubric), WriteError> {
    let (session, rubric) = find(tx, id).await?.ok_or(WriteError::Missing("that session"))?;
    let rubric = rubric.ok_or_else(|| FieldErrors::whole("this session has no rubric yet"))?;
    Ok((session, rubric))
}
