//! Connections to the database file, and copies of it.

use std::{path::Path, time::Duration};

use sqlx::{
    Connection, SqliteConnection,
    sqlite::{SqliteConnectOptions, SqliteJournalMode, SqliteSynchronous},
};

use super::own_files;
use crate::store::Error;

/// The write-ahead log is cut short when it is longer than this. It grows past it only while somebody reads
/// without end, an export for instance.
pub(in crate::store) const LONGEST_LOG: u64 = 16 * 1024 * 1024;

pub(in crate::store) fn options(path: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(path)
        // who may read it is settled before SQLite opens it
        .create_if_missing(false)
        .journal_mode(SqliteJournalMode::Wal)
        // acknowledged means on disk
        .synchronous(SqliteSynchronous::Full)
        .foreign_keys(true)
        .busy_timeout(Duration::from_secs(5))
        // a log that grew while somebody read for long is cut when it begins anew
        .pragma("journal_size_limit", LONGEST_LOG.to_string())
        .pragma("trusted_schema", "OFF")
        .pragma("temp_store", "MEMORY")
        // what is deleted is overwritten
        .pragma("secure_delete", "ON")
}

/// The connection of the one writer.
pub(in crate::store) async fn writing_connection(path: &Path) -> Result<SqliteConnection, sqlx::Error> {
    SqliteConnection::connect_with(&options(path)).await
}

pub(in crate::store) fn wal_bytes(path: &Path) -> u64 {
    std::fs::metadata(own_files::with_ending(path, "-wal")).map_or(0, |data| data.len())
}

/// Writes a consistent copy of the database at `from` to `to`, which must not exist yet; `from` may
/// be served meanwhile.
///
/// # Errors
/// When `from` is not a database or the copy cannot be written.
pub async fn copy(from: &Path, to: &Path) -> Result<(), Error> {
    own_files::create_new(to).map_err(sqlx::Error::from)?;
    copy_into(from, to).await
}

/// The same into an empty file that is there.
///
/// # Errors
/// When `from` is not a database or the copy cannot be written.
pub async fn copy_into(from: &Path, to: &Path) -> Result<(), Error> {
    // its journal is left as it is: a backup on a read-only disk can be copied too
    let mut conn = look_at(from).await?;
    let target = to.to_string_lossy().into_owned();
    sqlx::query("VACUUM INTO ?").bind(target).execute(&mut conn).await?;
    conn.close().await?;
    Ok(())
}

/// A connection to read a file with that is to stay as it is, whatever its schema.
///
/// # Errors
/// When it cannot be opened.
pub async fn look_at(file: &Path) -> Result<SqliteConnection, Error> {
    let plain = SqliteConnectOptions::new().filename(file).busy_timeout(Duration::from_secs(5));
    Ok(SqliteConnection::connect_with(&plain).await?)
}

/// Writes the write-ahead log that stands beside a file into it, so that the file alone is whole.
///
/// # Errors
/// When the file cannot be used; it and its log are then as they were.
pub async fn fold_log(file: &Path) -> Result<(), Error> {
    let mut conn = look_at(file).await?;
    sqlx::query("PRAGMA wal_checkpoint(TRUNCATE)").fetch_all(&mut conn).await?;
    conn.close().await?;
    Ok(())
}
