//! Trays of the stockroom.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{SiteId, TrayId},
    instant::Instant,
    stock::tray::Tray,
};

use crate::store::Error;

struct TrayRow {
    id: TrayId,
    site_id: SiteId,
    name: String,
    holds_ul: i64,
    count: i64,
    source: String,
    version: i64,
}

impl From<TrayRow> for Tray {
    fn from(row: TrayRow) -> Self {
        Self {
            id: row.id,
            site: row.site_id,
            name: row.name,
            holds_ul: row.holds_ul,
            count: row.count,
            source: row.source,
            version: row.version,
        }
    }
}

/// Trays, put away or not, the smallest first.
macro_rules! trays {
    ($how:ident, $conn:expr, $condition:tt $(, $bound:expr)*) => {
        sqlx::query_as!(
            TrayRow,
            "SELECT id, site_id, name, holds_ul, count, source, version FROM tray WHERE " + $condition
                + " ORDER BY holds_ul, name, id"
            $(, $bound)*
        )
        .$how($conn)
        .await?
    };
}

/// One kind of tray.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: TrayId) -> Result<Option<Tray>, Error> {
    Ok(trays!(fetch_optional, conn, "id = ?", id).map(Tray::from))
}

/// The trays at hand, the smallest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Tray>, Error> {
    Ok(trays!(fetch_all, conn, "put_away_at IS NULL").into_iter().map(Tray::from).collect())
}

/// The trays put away.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_put_away(conn: &mut SqliteConnection) -> Result<Vec<Tray>, Error> {
    Ok(trays!(fetch_all, conn, "put_away_at IS NOT NULL").into_iter().map(Tray::from).collect())
}

/// Stores new trays.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, tray: &Tray) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO tray (id, site_id, name, holds_ul, count, source) VALUES (?, ?, ?, ?, ?, ?)",
        tray.id,
        tray.site,
        tray.name,
        tray.holds_ul,
        tray.count,
        tray.source
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores edited trays if their version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, tray: &Tray) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE tray SET name = ?, holds_ul = ?, count = ?, source = ?, version = version + 1
         WHERE id = ? AND version = ?",
        tray.name,
        tray.holds_ul,
        tray.count,
        tray.source,
        tray.id,
        tray.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Puts trays away, or takes them out again.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_put_away(tx: &mut SqliteConnection, id: TrayId, at: Option<Instant>) -> Result<(), Error> {
    sqlx::query!("UPDATE tray SET put_away_at = ?, version = version + 1 WHERE id = ?", at, id).execute(tx).await?;
    Ok(())
}
