//! Files of every released schema, each filled by the demo of its day, come up to date whole.
//!
//! `tests/schemas/VERSION.db.gz` is such a file; `tests/schemas/README.md` says how one is made.

use std::{collections::BTreeMap, fs, io::Read, path::Path};

use flate2::read::GzDecoder;
use shimlight::store::Store;
use sqlx::{Connection, SqliteConnection, sqlite::SqliteConnectOptions};

use crate::program::{files, run, said};

/// How many rows each table holds; the list of migrations itself is left out.
async fn rows(database: &Path) -> BTreeMap<String, i64> {
    let plain = SqliteConnectOptions::new().filename(database).read_only(true);
    let mut conn = SqliteConnection::connect_with(&plain).await.expect("a database");
    let tables = r"SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE '\_sqlx%' ESCAPE '\'
                  AND name NOT LIKE 'sqlite%'";
    let names: Vec<String> = sqlx::query_scalar(tables).fetch_all(&mut conn).await.expect("tables");
    let mut rows = BTreeMap::new();
    for name in names {
        let count = sqlx::AssertSqlSafe(format!("SELECT count(*) FROM \"{name}\""));
        rows.insert(name, sqlx::query_scalar(count).fetch_one(&mut conn).await.expect("a count"));
    }
    conn.close().await.expect("closed");
    rows
}

fn unpack(packed: &Path, to: &Path) {
    let mut bytes = Vec::new();
    GzDecoder::new(fs::File::open(packed).expect("there")).read_to_end(&mut bytes).expect("gzip");
    fs::write(to, bytes).expect("room");
}

/// A file of the schema before acts named what they rest on, and in it sheets that only their remark ties to
/// a reading.
#[tokio::test]
async fn what_only_a_remark_said_is_a_key_afterwards() {
    let folder = tempfile::tempdir().expect("a folder");
    let database = folder.path().join("shimlight.db");
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/schemas/20261125153600.db.gz");
    unpack(&kept, &database);
    let plain = SqliteConnectOptions::new().filename(&database);
    let mut conn = SqliteConnection::connect_with(&plain).await.expect("a database");
    let (reading, entry): (Vec<u8>, i64) =
        sqlx::query_as("SELECT movement_id, entry FROM book_entry WHERE kind = 'reading' ORDER BY entry DESC LIMIT 1")
            .fetch_one(&mut conn)
            .await
            .expect("the demo reads a bath");
    // a sheet of before, as the program of then wrote it down
    let tied: Vec<u8> = sqlx::query_scalar(
        "SELECT id FROM movement WHERE kind = 'sheet' AND remark = '' ORDER BY recorded_at DESC LIMIT 1",
    )
    .fetch_one(&mut conn)
    .await
    .expect("the demo puts sheets through");
    let trigger: String = sqlx::query_scalar("SELECT sql FROM sqlite_schema WHERE name = 'movement_is_never_changed'")
        .fetch_one(&mut conn)
        .await
        .expect("the trigger");
    sqlx::query("DROP TRIGGER movement_is_never_changed").execute(&mut conn).await.expect("dropped");
    sqlx::query("UPDATE movement SET remark = ? WHERE id = ?")
        .bind(format!("their silver is in the reading of entry {entry}"))
        .bind(&tied)
        .execute(&mut conn)
        .await
        .expect("said so");
    sqlx::query(sqlx::AssertSqlSafe(trigger)).execute(&mut conn).await.expect("guarded again");
    conn.close().await.expect("closed");

    Store::open(&database).await.expect("it comes up to date").close().await;
    let mut conn = SqliteConnection::connect_with(&plain.read_only(true)).await.expect("a database");
    let rests: Vec<(Vec<u8>, Vec<u8>)> = sqlx::query_as("SELECT id, rests_on FROM movement WHERE rests_on IS NOT NULL")
        .fetch_all(&mut conn)
        .await
        .expect("keys");
    assert!(rests.contains(&(tied, reading)), "{rests:?}");
    let guarded = sqlx::query("UPDATE movement SET rests_on = NULL").execute(&mut conn).await;
    assert!(guarded.is_err(), "append-only as before");
}

#[tokio::test]
async fn a_file_of_every_released_schema_comes_up_to_date_and_loses_nothing() {
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/schemas");
    let packed: Vec<_> = files(&kept).into_iter().filter(|(name, _)| name.to_string_lossy().ends_with(".gz")).collect();
    assert!(!packed.is_empty());
    for (name, _) in packed {
        let folder = tempfile::tempdir().expect("a folder");
        let database = folder.path().join("shimlight.db");
        unpack(&kept.join(&name), &database);
        let before = rows(&database).await;
        assert!(before["book_entry"] > 20 && before["exposure"] > 5, "{name:?} is filled: {before:?}");

        Store::open(&database).await.expect("it comes up to date").close().await;
        let after = rows(&database).await;
        for (table, count) in &before {
            assert_eq!(after.get(table), Some(count), "{table} of {name:?}");
        }
        let checked = run(&database, &["check"]);
        assert!(checked.status.success(), "{name:?}: {}", said(&checked));
        let csv = folder.path().join("csv");
        let exported = run(&database, &["export", "--into", csv.to_str().expect("text")]);
        assert!(exported.status.success(), "{name:?}: {}", said(&exported));
        let book = files(&csv).into_iter().find(|(file, _)| file.ends_with("silver-book.csv")).expect("the book");
        let lines = String::from_utf8(book.1).expect("UTF-8").lines().count();
        assert_eq!(i64::try_from(lines).expect("few"), before["book_entry"] + 1, "every entry and the header");
    }
}
