//! Looks at waste containers.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{ContainerId, LookId, PersonId},
    instant::Instant,
    look::Look,
};

use super::Error;

struct LookRow {
    id: LookId,
    container_id: ContainerId,
    looked_at: Instant,
    closed: i64,
    labelled: i64,
    sound: i64,
    remark: String,
    looked_by: PersonId,
}

/// The looks at a container, newest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of(conn: &mut SqliteConnection, container: ContainerId) -> Result<Vec<Look>, Error> {
    let rows = sqlx::query_as!(
        LookRow,
        "SELECT id, container_id, looked_at, closed, labelled, sound, remark, looked_by
         FROM container_look WHERE container_id = ? ORDER BY looked_at DESC, id DESC",
        container
    )
    .fetch_all(conn)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| Look {
            id: row.id,
            container: row.container_id,
            looked_at: row.looked_at,
            closed: row.closed != 0,
            labelled: row.labelled != 0,
            sound: row.sound != 0,
            remark: row.remark,
            looked_by: row.looked_by,
        })
        .collect())
}

/// Stores a look.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, look: &Look, recorded_at: Instant) -> Result<(), Error> {
    let (closed, labelled, sound) = (i64::from(look.closed), i64::from(look.labelled), i64::from(look.sound));
    sqlx::query!(
        "INSERT INTO container_look (id, container_id, looked_at, closed, labelled, sound, remark, looked_by, recorded_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        look.id,
        look.container,
        look.looked_at,
        closed,
        labelled,
        sound,
        look.remark,
        look.looked_by,
        recorded_at
    )
    .execute(tx)
    .await?;
    Ok(())
}
