//! Whether the file itself is sound: SQLite's own structures, and references between tables.

use sqlx::{Row, SqliteConnection};

use crate::store::Error;

/// What SQLite finds wrong with the file; empty when it is sound.
///
/// # Errors
/// When the database cannot be used.
pub async fn faults(conn: &mut SqliteConnection) -> Result<Vec<String>, Error> {
    let said: Vec<String> = sqlx::query_scalar("PRAGMA integrity_check").fetch_all(&mut *conn).await?;
    let mut faults: Vec<String> = said.into_iter().filter(|line| line != "ok").collect();
    for row in sqlx::query("PRAGMA foreign_key_check").fetch_all(conn).await? {
        let (table, parent): (String, String) = (row.try_get(0)?, row.try_get(2)?);
        let number: Option<i64> = row.try_get(1)?;
        let number = number.map_or_else(|| "a row".to_owned(), |number| format!("row {number}"));
        faults.push(format!("{number} of {table} names a {parent} that is not there"));
    }
    Ok(faults)
}
