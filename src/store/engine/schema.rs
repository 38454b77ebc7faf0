//! Whether a file has the tables, indexes, triggers and views that the migrations make, and no others.

use std::collections::BTreeMap;

use sqlx::{Connection, Row, SqliteConnection, sqlite::SqliteConnectOptions};
use tokio::sync::OnceCell;

use super::releases::MIGRATIONS;
use crate::store::Error;

/// Each thing in a schema, by its kind and name, with the statement that makes it.
type Things = BTreeMap<(String, String), String>;

/// What the migrations make; worked out once, in memory.
static EXPECTED: OnceCell<Things> = OnceCell::const_new();

/// What is missing, different, or not ours, in words; empty when the schema is the one the migrations
/// make.
///
/// # Errors
/// When the database cannot be read.
pub async fn faults(conn: &mut SqliteConnection) -> Result<Vec<String>, Error> {
    let expected = EXPECTED.get_or_try_init(made_by_the_migrations).await?;
    let found = things(conn).await?;
    let mut faults = Vec::new();
    for ((kind, name), made) in expected {
        match found.get(&(kind.clone(), name.clone())) {
            None => faults.push(format!("the {kind} {name} is missing")),
            Some(there) if there != made => faults.push(format!("the {kind} {name} is not as it was made")),
            Some(_) => {}
        }
    }
    // what holds records first
    faults.sort_by_key(|fault| !fault.starts_with("the table"));
    let strange = found.keys().filter(|thing| !expected.contains_key(*thing));
    faults.extend(strange.map(|(kind, name)| format!("the {kind} {name} is none that Shimlight makes")));
    Ok(faults)
}

async fn made_by_the_migrations() -> Result<Things, Error> {
    let nowhere = SqliteConnectOptions::new().in_memory(true).foreign_keys(false);
    let mut conn = SqliteConnection::connect_with(&nowhere).await?;
    let ran = MIGRATIONS.run(&mut conn).await;
    ran.map_err(|error| sqlx::Error::Migrate(Box::new(error)))?;
    let things = things(&mut conn).await?;
    conn.close().await?;
    Ok(things)
}

async fn things(conn: &mut SqliteConnection) -> Result<Things, Error> {
    // what SQLite makes by itself has no statement; the list of migrations is looked at by itself
    let rows = sqlx::query(
        r"SELECT type, name, sql FROM sqlite_schema
          WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite\_%' ESCAPE '\' AND name NOT LIKE '\_sqlx%' ESCAPE '\'",
    )
    .fetch_all(conn)
    .await?;
    let mut things = Things::new();
    for row in rows {
        things.insert((row.try_get(0)?, row.try_get(1)?), row.try_get(2)?);
    }
    Ok(things)
}
