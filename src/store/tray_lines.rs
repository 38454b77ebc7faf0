//! Tray lines.

use sqlx::SqliteConnection;

use crate::domain::ids::{SiteId, TrayLineId};

use super::Error;

/// A set of trays in use.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TrayLine {
    /// Its id.
    pub id: TrayLineId,
    /// What it is called.
    pub name: String,
}

/// The tray lines in use, by name.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<TrayLine>, Error> {
    let rows = sqlx::query_as!(TrayLine, "SELECT id, name FROM tray_line WHERE put_away_at IS NULL ORDER BY name, id")
        .fetch_all(conn)
        .await?;
    Ok(rows)
}

/// One tray line.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: TrayLineId) -> Result<Option<TrayLine>, Error> {
    let row = sqlx::query_as!(TrayLine, "SELECT id, name FROM tray_line WHERE id = ?", id).fetch_optional(conn).await?;
    Ok(row)
}

/// Stores a new tray line.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, id: TrayLineId, site: SiteId, name: &str) -> Result<(), Error> {
    sqlx::query!("INSERT INTO tray_line (id, site_id, name) VALUES (?, ?, ?)", id, site, name).execute(tx).await?;
    Ok(())
}
