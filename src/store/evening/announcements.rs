//! What all benches of a session are told.

use sqlx::SqliteConnection;

use crate::domain::{
    evening::announcement::Announcement,
    ids::{LabSessionId, PersonId},
    instant::Instant,
};

use crate::store::Error;

/// What the benches of a session are told now.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Option<Announcement>, Error> {
    let row = sqlx::query_as!(
        Announcement,
        "SELECT id, words, said_at AS said FROM announcement WHERE lab_session_id = ? AND ended_at IS NULL",
        session
    )
    .fetch_optional(conn)
    .await?;
    Ok(row)
}

/// Says something new in the place of what was said before.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    said: &Announcement,
    by: PersonId,
) -> Result<(), Error> {
    end(tx, session, said.said).await?;
    sqlx::query!(
        "INSERT INTO announcement (id, lab_session_id, words, said_at, said_by) VALUES (?, ?, ?, ?, ?)",
        said.id,
        session,
        said.words,
        said.said,
        by
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Takes down what was said.
///
/// # Errors
/// When the database cannot be used.
pub async fn end(tx: &mut SqliteConnection, session: LabSessionId, at: Instant) -> Result<(), Error> {
    sqlx::query!("UPDATE announcement SET ended_at = ? WHERE lab_session_id = ? AND ended_at IS NULL", at, session)
        .execute(tx)
        .await?;
    Ok(())
}
