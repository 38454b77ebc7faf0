//! Tray lines.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{SiteId, TrayLineId},
    instant::Instant,
};

use crate::store::Error;

/// A set of trays in use.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrayLine {
    /// Its id.
    pub id: TrayLineId,
    /// What it is called.
    pub name: String,
    /// How many people can stand at it in the dark; `None` when nobody said.
    pub places: Option<i64>,
    /// Counts edits.
    pub version: i64,
}

/// The tray lines in use, by name.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<TrayLine>, Error> {
    let rows = sqlx::query_as!(
        TrayLine,
        "SELECT id, name, places, version FROM tray_line WHERE put_away_at IS NULL ORDER BY name, id"
    )
    .fetch_all(conn)
    .await?;
    Ok(rows)
}

/// One tray line.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: TrayLineId) -> Result<Option<TrayLine>, Error> {
    let row = sqlx::query_as!(TrayLine, "SELECT id, name, places, version FROM tray_line WHERE id = ?", id)
        .fetch_optional(conn)
        .await?;
    Ok(row)
}

/// Stores a new tray line.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(
    tx: &mut SqliteConnection,
    id: TrayLineId,
    site: SiteId,
    name: &str,
    places: Option<i64>,
) -> Result<(), Error> {
    sqlx::query!("INSERT INTO tray_line (id, site_id, name, places) VALUES (?, ?, ?, ?)", id, site, name, places)
        .execute(tx)
        .await?;
    Ok(())
}

/// Stores another name or number of places if the version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, line: &TrayLine) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE tray_line SET name = ?, places = ?, version = version + 1 WHERE id = ? AND version = ?",
        line.name,
        line.places,
        line.id,
        line.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// The tray lines put away, by name.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_put_away(conn: &mut SqliteConnection) -> Result<Vec<TrayLine>, Error> {
    let rows = sqlx::query_as!(
        TrayLine,
        "SELECT id, name, places, version FROM tray_line WHERE put_away_at IS NOT NULL ORDER BY name, id"
    )
    .fetch_all(conn)
    .await?;
    Ok(rows)
}

/// Puts a tray line away: no longer offered, still named by records.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_away(tx: &mut SqliteConnection, id: TrayLineId, at: Instant) -> Result<(), Error> {
    sqlx::query!("UPDATE tray_line SET put_away_at = ?, version = version + 1 WHERE id = ?", at, id)
        .execute(tx)
        .await?;
    Ok(())
}

/// Puts a tray line back into use.
///
/// # Errors
/// When the database cannot be used.
pub async fn take_out(tx: &mut SqliteConnection, id: TrayLineId) -> Result<(), Error> {
    sqlx::query!("UPDATE tray_line SET put_away_at = NULL, version = version + 1 WHERE id = ?", id).execute(tx).await?;
    Ok(())
}

/// How many batches stand in its trays now.
///
/// # Errors
/// When the database cannot be used.
pub async fn count_standing(conn: &mut SqliteConnection, id: TrayLineId) -> Result<i64, Error> {
    let count = sqlx::query_scalar!(
        r#"SELECT count(*) AS "n!: i64" FROM tray_slot WHERE tray_line_id = ? AND to_at IS NULL"#,
        id
    )
    .fetch_one(conn)
    .await?;
    Ok(count)
}
