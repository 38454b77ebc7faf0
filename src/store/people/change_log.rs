//! Who changed what. Person ids, never names.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{Id, SectionId, StudentId},
    instant::Instant,
    people::actor::Actor,
};

use crate::store::Error;

/// One line of the change log.
#[derive(Clone, Debug)]
pub struct Change {
    /// When.
    pub at: Instant,
    /// What was done, in a few words: `camera registered`.
    pub what: String,
    /// More, without names of people: `exposure 3, 12 s`.
    pub detail: String,
}

/// Adds a line: `actor` did `what` to the `subject` (a table's name) called `id`.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert<T: Id>(
    tx: &mut SqliteConnection,
    at: Instant,
    actor: Actor,
    what: &str,
    subject: &str,
    id: T,
    detail: &str,
) -> Result<(), Error> {
    let (kind, person, subject_id) = (actor.kind(), actor.person(), id.as_uuid());
    sqlx::query!(
        "INSERT INTO change_log (at, actor_kind, actor_id, what, subject, subject_id, detail)
         VALUES (?, ?, ?, ?, ?, ?, ?)",
        at,
        kind,
        person,
        what,
        subject,
        subject_id,
        detail
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Notes that a backup was made.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert_backup(tx: &mut SqliteConnection, at: Instant) -> Result<(), Error> {
    let kind = Actor::Server.kind();
    sqlx::query!(
        "INSERT INTO change_log (at, actor_kind, what, subject) VALUES (?, ?, 'backup made', 'server')",
        at,
        kind
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Notes that a restore was rehearsed and passed.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert_rehearsal(tx: &mut SqliteConnection, at: Instant) -> Result<(), Error> {
    let kind = Actor::Server.kind();
    sqlx::query!(
        "INSERT INTO change_log (at, actor_kind, what, subject) VALUES (?, ?, 'restore rehearsed', 'server')",
        at,
        kind
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// When a restore was last rehearsed and passed.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_last_rehearsal(conn: &mut SqliteConnection) -> Result<Option<Instant>, Error> {
    let row = sqlx::query!(
        r#"SELECT max(at) AS "at?: Instant" FROM change_log WHERE subject = 'server' AND what = 'restore rehearsed'"#
    )
    .fetch_one(conn)
    .await?;
    Ok(row.at)
}

/// When the last backup was made.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_last_backup(conn: &mut SqliteConnection) -> Result<Option<Instant>, Error> {
    let row = sqlx::query!(
        r#"SELECT max(at) AS "at?: Instant" FROM change_log WHERE subject = 'server' AND what = 'backup made'"#
    )
    .fetch_one(conn)
    .await?;
    Ok(row.at)
}

/// When the newest line was written, if any was.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_newest_at(conn: &mut SqliteConnection) -> Result<Option<Instant>, Error> {
    let row = sqlx::query!(r#"SELECT max(at) AS "at?: Instant" FROM change_log"#).fetch_one(conn).await?;
    Ok(row.at)
}

/// The newest line that this person wrote: the answer to “was my last entry saved?”.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_last_by(conn: &mut SqliteConnection, actor: Actor) -> Result<Option<Change>, Error> {
    let person = actor.person();
    let row = sqlx::query_as!(
        Change,
        "SELECT at, what, detail FROM change_log WHERE actor_id = ? ORDER BY id DESC LIMIT 1",
        person
    )
    .fetch_optional(conn)
    .await?;
    Ok(row)
}

/// Everything that happened to one record, oldest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of<T: Id>(conn: &mut SqliteConnection, id: T) -> Result<Vec<Change>, Error> {
    let subject_id = id.as_uuid();
    let rows =
        sqlx::query_as!(Change, "SELECT at, what, detail FROM change_log WHERE subject_id = ? ORDER BY id", subject_id)
            .fetch_all(conn)
            .await?;
    Ok(rows)
}

/// When each student of a section last wrote something.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_last_of_section(
    conn: &mut SqliteConnection,
    section: SectionId,
) -> Result<Vec<(StudentId, Instant)>, Error> {
    let rows = sqlx::query!(
        r#"SELECT student.id AS "student!: StudentId", max(change_log.at) AS "at!: Instant"
           FROM student JOIN change_log ON change_log.actor_id = student.id
           WHERE student.section_id = ? GROUP BY student.id"#,
        section
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(|row| (row.student, row.at)).collect())
}
