//! Sections.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{SectionId, SiteId},
    instant::Instant,
    people::section::Section,
};

use crate::store::Error;

struct SectionRow {
    id: SectionId,
    site_id: SiteId,
    name: String,
    door_code: String,
    walk_ins: i64,
    version: i64,
}

impl From<SectionRow> for Section {
    fn from(row: SectionRow) -> Self {
        Self {
            id: row.id,
            site: row.site_id,
            name: row.name,
            door_code: row.door_code,
            walk_ins: row.walk_ins != 0,
            version: row.version,
        }
    }
}

/// One section.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: SectionId) -> Result<Option<Section>, Error> {
    let row = sqlx::query_as!(
        SectionRow,
        "SELECT id, site_id, name, door_code, walk_ins, version FROM section WHERE id = ?",
        id
    )
    .fetch_optional(conn)
    .await?;
    Ok(row.map(Section::from))
}

/// The section behind a door code (in capitals).
///
/// # Errors
/// When the database cannot be used.
pub async fn find_by_door_code(conn: &mut SqliteConnection, door_code: &str) -> Result<Option<Section>, Error> {
    let row = sqlx::query_as!(
        SectionRow,
        "SELECT id, site_id, name, door_code, walk_ins, version FROM section WHERE door_code = ?",
        door_code
    )
    .fetch_optional(conn)
    .await?;
    Ok(row.map(Section::from))
}

/// All sections, the newest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Section>, Error> {
    let rows = sqlx::query_as!(
        SectionRow,
        "SELECT id, site_id, name, door_code, walk_ins, version FROM section ORDER BY created_at DESC, id DESC"
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(Section::from).collect())
}

/// Stores a new section.
///
/// # Errors
/// [`Error::Constraint`] when the door code is taken.
pub async fn insert(tx: &mut SqliteConnection, section: &Section, at: Instant) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO section (id, site_id, name, door_code, walk_ins, created_at) VALUES (?, ?, ?, ?, ?, ?)",
        section.id,
        section.site,
        section.name,
        section.door_code,
        section.walk_ins,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores an edited section if its version still stands; gives whether it did.
///
/// # Errors
/// [`Error::Constraint`] when the door code is taken.
pub async fn update(tx: &mut SqliteConnection, section: &Section) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE section SET name = ?, door_code = ?, walk_ins = ?, version = version + 1 WHERE id = ? AND version = ?",
        section.name,
        section.door_code,
        section.walk_ins,
        section.id,
        section.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}
