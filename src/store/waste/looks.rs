//! Looks at waste containers.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{ContainerId, LookId, PersonId},
    instant::Instant,
    waste::{look::Look, taken_back::TakenBack},
};

use crate::store::Error;

struct LookRow {
    id: LookId,
    container_id: ContainerId,
    looked_at: Instant,
    closed: i64,
    labelled: i64,
    sound: i64,
    remark: String,
    looked_by: PersonId,
    undone_at: Option<Instant>,
    undone_by: Option<PersonId>,
    undone_why: String,
}

/// The looks at a container, newest first, those taken back among them.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of(conn: &mut SqliteConnection, container: ContainerId) -> Result<Vec<Look>, Error> {
    let rows = sqlx::query_as!(
        LookRow,
        "SELECT id, container_id, looked_at, closed, labelled, sound, remark, looked_by, undone_at, undone_by,
                undone_why
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
            taken_back: TakenBack::from_columns(row.undone_at, row.undone_by, row.undone_why),
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

/// Takes a look at a container back, if it stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_taken_back(
    tx: &mut SqliteConnection,
    (container, id): (ContainerId, LookId),
    taken_back: &TakenBack,
) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE container_look SET undone_at = ?, undone_by = ?, undone_why = ?
         WHERE id = ? AND container_id = ? AND undone_at IS NULL",
        taken_back.at,
        taken_back.by,
        taken_back.why,
        id,
        container
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}
