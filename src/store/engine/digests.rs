//! A digest over the rows of every table, kept with each commit, so that a row which changed
//! without a commit is found.
//!
//! SQLite checks the shape of its pages, not what stands in them: a flipped bit in a name or a number
//! passes its own check. The digest of a table is the sum of its rows' SHA-256 (in four lanes of 64 bits), so that
//! a commit changes it by the rows it touched alone, in whatever order. Triggers that live only as long as the
//! connection note those rows; they are no part of the file. It finds damage, not a forger.

use std::{collections::BTreeMap, path::Path};

use futures_util::TryStreamExt;
use sha2::{Digest, Sha256};
use sqlx::{AssertSqlSafe, Connection, Row, SqliteConnection};

use super::connect;
use crate::store::Error;

/// The row of the table that says up to which migration the digests were taken.
const SCHEMA: &str = "(schema)";

/// How many rows, and the sum of their digests.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Sum {
    rows: i64,
    lanes: [u64; 4],
}

impl Sum {
    /// Adds a row, or takes one away.
    fn count(&mut self, table: &str, row: &str, sign: i64) {
        let mut hasher = Sha256::new();
        hasher.update(table.as_bytes());
        hasher.update([0]);
        hasher.update(row.as_bytes());
        let one = Self::lanes_of(&hasher.finalize());
        for (lane, part) in self.lanes.iter_mut().zip(one) {
            *lane = if sign < 0 { lane.wrapping_sub(part) } else { lane.wrapping_add(part) };
        }
        self.rows += sign;
    }

    fn add(&mut self, other: Self) {
        for (lane, part) in self.lanes.iter_mut().zip(other.lanes) {
            *lane = lane.wrapping_add(part);
        }
        self.rows += other.rows;
    }

    fn lanes_of(bytes: &[u8]) -> [u64; 4] {
        let mut lanes = [0; 4];
        for (lane, part) in lanes.iter_mut().zip(bytes.chunks_exact(8)) {
            *lane = u64::from_be_bytes(part.try_into().unwrap_or_default());
        }
        lanes
    }

    fn bytes(self) -> Vec<u8> {
        self.lanes.iter().flat_map(|lane| lane.to_be_bytes()).collect()
    }
}

/// Every table of ours with its columns; the digests themselves, and what belongs to SQLite and to
/// the migrations, are left out.
async fn tables(conn: &mut SqliteConnection) -> Result<BTreeMap<String, Vec<String>>, sqlx::Error> {
    let rows = sqlx::query(
        r"SELECT m.name, c.name FROM sqlite_schema m, pragma_table_info(m.name) c
          WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite\_%' ESCAPE '\' AND m.name NOT LIKE '\_sqlx%' ESCAPE '\'
          AND m.name <> 'table_digest' ORDER BY m.name, c.cid",
    )
    .fetch_all(conn)
    .await?;
    let mut tables: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for row in rows {
        tables.entry(row.try_get(0)?).or_default().push(row.try_get(1)?);
    }
    Ok(tables)
}

/// A row as one text that differs whenever a value does.
fn row_text(columns: &[String], of: &str) -> String {
    let quoted: Vec<String> = columns.iter().map(|column| format!("quote({of}\"{column}\")")).collect();
    quoted.join(" || ',' || ")
}

/// Has every change that this connection makes noted until [`settle`] is called. Nothing of it goes
/// into the file.
pub(in crate::store) async fn watch(conn: &mut SqliteConnection) -> Result<(), sqlx::Error> {
    let mut sql = "CREATE TEMP TABLE touched_row (of TEXT, sign INTEGER, content TEXT);".to_owned();
    for (table, columns) in tables(conn).await? {
        let (old, new) = (row_text(&columns, "OLD."), row_text(&columns, "NEW."));
        let gone = format!("INSERT INTO touched_row VALUES ('{table}', -1, {old});");
        let come = format!("INSERT INTO touched_row VALUES ('{table}', 1, {new});");
        for (event, noted) in [("INSERT", come.clone()), ("DELETE", gone.clone()), ("UPDATE", gone + &come)] {
            sql += &format!(
                "CREATE TEMP TRIGGER \"digest {event} {table}\" AFTER {event} ON main.\"{table}\" BEGIN {noted} END;"
            );
        }
    }
    sqlx::raw_sql(AssertSqlSafe(sql)).execute(conn).await?;
    Ok(())
}

/// Brings the digests up to what was noted; to be called inside the transaction, before its commit.
pub(in crate::store) async fn settle(conn: &mut SqliteConnection) -> Result<(), sqlx::Error> {
    let mut sums: BTreeMap<String, Sum> = BTreeMap::new();
    let mut rows = sqlx::query("SELECT of, sign, content FROM temp.touched_row").fetch(&mut *conn);
    while let Some(row) = rows.try_next().await? {
        let (table, sign): (String, i64) = (row.try_get(0)?, row.try_get(1)?);
        let content: &str = row.try_get(2)?;
        sums.entry(table.clone()).or_default().count(&table, content, sign);
    }
    drop(rows);
    if sums.is_empty() {
        return Ok(());
    }
    let kept = kept(conn).await?;
    for (table, change) in sums {
        let mut sum = kept.get(&table).copied().unwrap_or_default();
        sum.add(change);
        keep(conn, &table, sum).await?;
    }
    sqlx::query("DELETE FROM temp.touched_row").execute(conn).await?;
    Ok(())
}

/// Takes all digests anew, as after a migration, and notes up to which one.
pub(in crate::store) async fn take_all(conn: &mut SqliteConnection, migration: i64) -> Result<(), sqlx::Error> {
    sqlx::query("BEGIN IMMEDIATE").execute(&mut *conn).await?;
    sqlx::query("DELETE FROM table_digest").execute(&mut *conn).await?;
    for (table, columns) in tables(conn).await? {
        let sum = sum_of(conn, &table, &columns).await?;
        keep(conn, &table, sum).await?;
    }
    keep(conn, SCHEMA, Sum { rows: migration, lanes: [0; 4] }).await?;
    sqlx::query("COMMIT").execute(conn).await?;
    Ok(())
}

/// Up to which migration the digests were taken; `None` when the file has none yet.
pub(in crate::store) async fn taken_up_to(conn: &mut SqliteConnection) -> Result<Option<i64>, sqlx::Error> {
    let there: i64 = sqlx::query_scalar("SELECT count(*) FROM sqlite_schema WHERE name = 'table_digest'")
        .fetch_one(&mut *conn)
        .await?;
    if there == 0 {
        return Ok(None);
    }
    sqlx::query_scalar("SELECT row_count FROM table_digest WHERE table_name = ?")
        .bind(SCHEMA)
        .fetch_optional(conn)
        .await
}

/// The tables whose rows are not those of the last commit, in words; nothing where the file has no
/// digests yet.
///
/// # Errors
/// When the digests themselves cannot be read.
pub async fn faults(conn: &mut SqliteConnection) -> Result<Vec<String>, Error> {
    if taken_up_to(conn).await?.is_none() {
        return Ok(Vec::new());
    }
    let mut kept = kept(conn).await?;
    kept.remove(SCHEMA);
    let mut faults = Vec::new();
    for (table, columns) in tables(conn).await? {
        let then = kept.remove(&table).unwrap_or_default();
        match sum_of(conn, &table, &columns).await {
            Ok(now) if now == then => {}
            Ok(now) if now.rows == then.rows => {
                faults.push(format!(
                    "what stands in {table} is not what was saved: one of its {} rows changed",
                    now.rows
                ));
            }
            Ok(now) => faults.push(format!("{table} has {} rows, and {} were saved", now.rows, then.rows)),
            Err(error) => faults.push(format!("{table} cannot be read: {error}")),
        }
    }
    faults.extend(kept.into_keys().map(|table| format!("the table {table} is gone")));
    Ok(faults)
}

/// How many rows each table of a file has; the file stays as it is.
///
/// # Errors
/// When it cannot be read.
pub async fn count_rows(file: &Path) -> Result<BTreeMap<String, i64>, Error> {
    let mut conn = connect::look_at(file).await?;
    let mut counts = BTreeMap::new();
    for (table, _) in tables(&mut conn).await? {
        let count = AssertSqlSafe(format!("SELECT count(*) FROM main.\"{table}\""));
        let rows = sqlx::query_scalar(count).fetch_one(&mut conn).await?;
        counts.insert(table, rows);
    }
    conn.close().await?;
    Ok(counts)
}

async fn sum_of(conn: &mut SqliteConnection, table: &str, columns: &[String]) -> Result<Sum, sqlx::Error> {
    let sql = format!("SELECT {} FROM main.\"{table}\" NOT INDEXED", row_text(columns, ""));
    let mut sum = Sum::default();
    let mut rows = sqlx::query(AssertSqlSafe(sql)).fetch(conn);
    while let Some(row) = rows.try_next().await? {
        sum.count(table, row.try_get(0)?, 1);
    }
    Ok(sum)
}

async fn kept(conn: &mut SqliteConnection) -> Result<BTreeMap<String, Sum>, sqlx::Error> {
    let rows = sqlx::query("SELECT table_name, row_count, digest FROM table_digest").fetch_all(conn).await?;
    let mut kept = BTreeMap::new();
    for row in rows {
        let digest: &[u8] = row.try_get(2)?;
        kept.insert(row.try_get(0)?, Sum { rows: row.try_get(1)?, lanes: Sum::lanes_of(digest) });
    }
    Ok(kept)
}

async fn keep(conn: &mut SqliteConnection, table: &str, sum: Sum) -> Result<(), sqlx::Error> {
    sqlx::query(
        "INSERT INTO table_digest (table_name, row_count, digest) VALUES (?, ?, ?)
         ON CONFLICT (table_name) DO UPDATE SET row_count = excluded.row_count, digest = excluded.digest",
    )
    .bind(table)
    .bind(sum.rows)
    .bind(sum.bytes())
    .execute(conn)
    .await?;
    Ok(())
}
