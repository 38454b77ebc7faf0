//! Which schema a file has, and which this program knows.

use std::path::Path;

use sqlx::{Connection, SqliteConnection, migrate::Migrator, sqlite::SqliteConnectOptions};

use crate::store::Error;

/// The migrations this program knows, embedded.
pub static MIGRATIONS: Migrator = sqlx::migrate!();

/// Whether the file has exactly the schema this program knows.
///
/// # Errors
/// When it is not a database.
pub async fn is_current(path: &Path) -> Result<bool, Error> {
    let applied = schema_of(path).await?;
    Ok(applied.iter().copied().eq(MIGRATIONS.iter().map(|migration| migration.version)))
}

/// Whether the file was made by Shimlight, of whatever version.
///
/// # Errors
/// When it is not a database.
pub async fn is_ours(path: &Path) -> Result<bool, Error> {
    let first = MIGRATIONS.iter().map(|migration| migration.version).min();
    Ok(schema_of(path).await?.first().copied() == first)
}

async fn schema_of(path: &Path) -> Result<Vec<i64>, Error> {
    let mut conn = SqliteConnection::connect_with(&SqliteConnectOptions::new().filename(path)).await?;
    let applied = applied_versions(&mut conn).await?;
    conn.close().await?;
    Ok(applied)
}

pub(in crate::store) async fn applied_versions(conn: &mut SqliteConnection) -> Result<Vec<i64>, sqlx::Error> {
    let known: i64 = sqlx::query_scalar("SELECT count(*) FROM sqlite_schema WHERE name = '_sqlx_migrations'")
        .fetch_one(&mut *conn)
        .await?;
    if known == 0 {
        return Ok(Vec::new());
    }
    sqlx::query_scalar("SELECT version FROM _sqlx_migrations ORDER BY version").fetch_all(conn).await
}
