//! Secrets the server makes for itself at first use.

use sqlx::SqliteConnection;

use crate::store::Error;

/// The salt under which seat keys are hashed.
pub const SEAT_KEY_SALT: &str = "seat key salt";

/// What marks of browsers are sealed with.
pub const BROWSER_MARK: &str = "browser mark";

/// A secret, if it has been made.
///
/// # Errors
/// When the database cannot be used or holds something of another length.
pub async fn find(conn: &mut SqliteConnection, name: &str) -> Result<Option<[u8; 32]>, Error> {
    let row = sqlx::query!("SELECT value FROM server_secret WHERE name = ?", name).fetch_optional(conn).await?;
    row.map(|row| {
        row.value.try_into().map_err(|_| Error::Inconsistent {
            table: "server_secret",
            column: "value",
            id: name.to_owned(),
        })
    })
    .transpose()
}

/// Keeps a secret unless there is one already: the first one stands.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert_if_missing(tx: &mut SqliteConnection, name: &str, value: &[u8; 32]) -> Result<(), Error> {
    let value = value.as_slice();
    sqlx::query!("INSERT INTO server_secret (name, value) VALUES (?, ?) ON CONFLICT (name) DO NOTHING", name, value)
        .execute(tx)
        .await?;
    Ok(())
}
