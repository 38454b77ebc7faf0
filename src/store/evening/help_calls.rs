//! Calls for help.

use sqlx::SqliteConnection;

use crate::domain::{
    evening::help_call::HelpCall,
    ids::{HelpCallId, LabSessionId, PersonId, StudentId},
    instant::Instant,
};

use crate::store::Error;

/// The calls of a session that nobody has answered, the longest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<HelpCall>, Error> {
    let rows = sqlx::query_as!(
        HelpCall,
        "SELECT id, student_id AS student, why, called_at AS called
         FROM help_call WHERE lab_session_id = ? AND ended_at IS NULL ORDER BY called_at, id",
        session
    )
    .fetch_all(conn)
    .await?;
    Ok(rows)
}

/// A student's call, while nobody has answered it.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_of_student(conn: &mut SqliteConnection, student: StudentId) -> Result<Option<HelpCall>, Error> {
    let row = sqlx::query_as!(
        HelpCall,
        "SELECT id, student_id AS student, why, called_at AS called
         FROM help_call WHERE student_id = ? AND ended_at IS NULL",
        student
    )
    .fetch_optional(conn)
    .await?;
    Ok(row)
}

/// Stores a call.
///
/// # Errors
/// [`Error::Constraint`] when the student has called already.
pub async fn insert(tx: &mut SqliteConnection, call: &HelpCall, session: LabSessionId) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO help_call (id, lab_session_id, student_id, why, called_at) VALUES (?, ?, ?, ?, ?)",
        call.id,
        session,
        call.student,
        call.why,
        call.called
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Ends a call: somebody came, or the student took it back. Gives whether it was still open.
///
/// # Errors
/// When the database cannot be used.
pub async fn end(tx: &mut SqliteConnection, id: HelpCallId, by: PersonId, at: Instant) -> Result<bool, Error> {
    let done =
        sqlx::query!("UPDATE help_call SET ended_at = ?, ended_by = ? WHERE id = ? AND ended_at IS NULL", at, by, id)
            .execute(tx)
            .await?;
    Ok(done.rows_affected() == 1)
}

/// The session closes: every call ends.
///
/// # Errors
/// When the database cannot be used.
pub async fn end_all(tx: &mut SqliteConnection, session: LabSessionId, at: Instant) -> Result<(), Error> {
    sqlx::query!("UPDATE help_call SET ended_at = ? WHERE lab_session_id = ? AND ended_at IS NULL", at, session)
        .execute(tx)
        .await?;
    Ok(())
}
