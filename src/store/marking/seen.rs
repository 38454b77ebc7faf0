//! What staff saw with their own eyes: whether a hole is round, who took part in the clean-up.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{HoleId, LabSessionId, PersonId, StudentId},
    instant::Instant,
};

use crate::store::Error;

/// Whether staff found a hole round; `None` when nobody looked.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_roundness(conn: &mut SqliteConnection, hole: HoleId) -> Result<Option<bool>, Error> {
    let row = sqlx::query!("SELECT round FROM hole_check WHERE hole_id = ?", hole).fetch_optional(conn).await?;
    Ok(row.map(|row| row.round != 0))
}

/// Keeps what staff saw of a hole; `None` takes it back.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_roundness(
    tx: &mut SqliteConnection,
    hole: HoleId,
    round: Option<bool>,
    by: PersonId,
    at: Instant,
) -> Result<(), Error> {
    let Some(round) = round else {
        sqlx::query!("DELETE FROM hole_check WHERE hole_id = ?", hole).execute(tx).await?;
        return Ok(());
    };
    sqlx::query!(
        "INSERT INTO hole_check (hole_id, round, checked_by, checked_at) VALUES (?, ?, ?, ?)
         ON CONFLICT (hole_id) DO UPDATE SET round = excluded.round, checked_by = excluded.checked_by,
             checked_at = excluded.checked_at",
        hole,
        round,
        by,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Who took part in a session's clean-up and who did not; whom nobody noted is not in it.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_clean_up(
    conn: &mut SqliteConnection,
    session: LabSessionId,
) -> Result<HashMap<StudentId, bool>, Error> {
    let rows = sqlx::query!("SELECT student_id, took_part FROM clean_up WHERE lab_session_id = ?", session)
        .fetch_all(conn)
        .await?;
    Ok(rows.into_iter().map(|row| (row.student_id, row.took_part != 0)).collect())
}

/// Keeps whether a student took part in the clean-up; `None` takes it back.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_clean_up(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
    took_part: Option<bool>,
    by: PersonId,
    at: Instant,
) -> Result<(), Error> {
    let Some(took_part) = took_part else {
        sqlx::query!("DELETE FROM clean_up WHERE lab_session_id = ? AND student_id = ?", session, student)
            .execute(tx)
            .await?;
        return Ok(());
    };
    sqlx::query!(
        "INSERT INTO clean_up (lab_session_id, student_id, took_part, witnessed_by, witnessed_at)
         VALUES (?, ?, ?, ?, ?)
         ON CONFLICT (lab_session_id, student_id) DO UPDATE SET took_part = excluded.took_part,
             witnessed_by = excluded.witnessed_by, witnessed_at = excluded.witnessed_at",
        session,
        student,
        took_part,
        by,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}
