//! `shimlight demo --at`: the same moment is the same invented section, to the last id.

use std::path::{Path, PathBuf};

use sqlx::{Connection, Row, SqliteConnection, sqlite::SqliteConnectOptions};

use crate::program::{files, program, run, said};

/// A demo told into a folder of its own.
struct Told {
    /// What it printed, without where it stands.
    ways: String,
    /// Every CSV file, by its path.
    exported: Vec<(PathBuf, Vec<u8>)>,
    /// Every row of every table, as SQL would write it.
    rows: Vec<String>,
}

/// Told on a computer that is set to this zone and language.
async fn told(folder: &Path, zone: &str, language: &str) -> Told {
    let (into, csv) = (folder.join("demo"), folder.join("csv"));
    let database = into.join("shimlight.db");
    let text = |path: &Path| path.to_str().expect("text").to_owned();
    let there = |arguments: &[&str]| {
        let mut command = program();
        command.args(arguments).env("SHIMLIGHT_DATABASE", &database).env("SHIMLIGHT_LOG", "warn");
        let output = command.env("TZ", zone).env("LANG", language).env("LC_ALL", language).output();
        let output = output.expect("the program starts");
        assert!(output.status.success(), "{}", said(&output));
        output
    };
    let story = there(&["demo", "--no-serve", "--at", "2026-03-20T18:30:00Z", "--into", text(&into).as_str()]);
    let rows = rows(&database).await;
    there(&["export", "--into", text(&csv).as_str()]);
    let ways = String::from_utf8(story.stdout).expect("text").replace(text(&into).as_str(), "");
    Told { ways, exported: files(&csv), rows }
}

/// Everything in the file, a line a row.
async fn rows(database: &Path) -> Vec<String> {
    let options = SqliteConnectOptions::new().filename(database).read_only(true);
    let mut conn = SqliteConnection::connect_with(&options).await.expect("a database");
    let columns = sqlx::query(
        "SELECT m.name, group_concat('quote(\"' || c.name || '\")', ' || char(32) || ') FROM sqlite_schema m, \
         pragma_table_info(m.name) c WHERE m.type = 'table' AND m.name NOT LIKE '\\_sqlx%' ESCAPE '\\' GROUP BY m.name",
    )
    .fetch_all(&mut conn)
    .await
    .expect("its tables");
    let mut all = Vec::new();
    for table in columns {
        let (name, columns): (String, String) = (table.get(0), table.get(1));
        let sql = format!("SELECT {columns} FROM \"{name}\" ORDER BY 1");
        let rows = sqlx::query(sqlx::AssertSqlSafe(sql)).fetch_all(&mut conn).await.expect("its rows");
        all.extend(rows.iter().map(|row| format!("{name}: {}", row.get::<String, _>(0))));
    }
    conn.close().await.expect("closed");
    all
}

#[tokio::test]
async fn two_demos_of_one_moment_are_alike_to_the_last_row_wherever_the_computers_stand() {
    let folder = tempfile::tempdir().expect("a folder");
    let one = told(&folder.path().join("one"), "UTC", "C").await;
    // it is another day there, and a language in which the capital of i is not I
    let two = told(&folder.path().join("two"), "Pacific/Auckland", "tr_TR.UTF-8").await;
    assert!(one.ways.contains("seat key"), "{}", one.ways);
    assert_eq!(one.ways, two.ways, "passwords and seat keys");
    assert!(one.rows.len() > 300, "a story: {} rows", one.rows.len());
    let differs: Vec<_> = one.rows.iter().zip(&two.rows).filter(|(one, two)| one != two).take(5).collect();
    assert!(differs.is_empty() && one.rows.len() == two.rows.len(), "{differs:#?}");
    assert!(one.exported.iter().any(|(path, _)| path.ends_with("exposures.csv")), "{:?}", one.exported);
    assert_eq!(one.exported, two.exported);
}

/// The newest instant of every column that says when something happened, as `table.column`.
async fn newest(conn: &mut SqliteConnection) -> Vec<(String, i64)> {
    /// What ends later.
    const TO_COME: [&str; 2] = ["expires_at", "report_due_at"];
    let columns: Vec<(String, String)> = sqlx::query_as(
        "SELECT m.name, c.name FROM sqlite_schema m, pragma_table_info(m.name) c \
         WHERE m.type = 'table' AND c.name LIKE '%\\_at' ESCAPE '\\'",
    )
    .fetch_all(&mut *conn)
    .await
    .expect("columns");
    let mut newest = Vec::new();
    for (table, column) in columns {
        let sql = format!("SELECT max(\"{column}\") FROM \"{table}\"");
        let at: Option<i64> = sqlx::query_scalar(sqlx::AssertSqlSafe(sql)).fetch_one(&mut *conn).await.expect("one");
        newest.extend(at.filter(|_| !TO_COME.contains(&column.as_str())).map(|at| (format!("{table}.{column}"), at)));
    }
    newest
}

#[tokio::test]
async fn the_sections_floor_is_alive_whenever_the_demo_is_started() {
    let folder = tempfile::tempdir().expect("a folder");
    let at_hours = [
        "2026-06-21T00:10:00Z",
        "2026-11-02T04:00:00Z",
        "2026-02-28T12:00:00Z",
        "2026-03-20T18:30:00Z",
        "2026-12-31T23:58:00Z",
    ];
    for (at, number) in at_hours.into_iter().zip(1..) {
        let into = folder.path().join(number.to_string());
        let story = run(&into, &["demo", "--no-serve", "--at", at, "--into", into.to_str().expect("text")]);
        assert!(story.status.success(), "{at}: {}", said(&story));
        let opened: jiff::Timestamp = at.parse().expect("an instant");
        let ago_min = |micros: i64| (opened.as_microsecond() - micros) as f64 / 60e6;
        let options = SqliteConnectOptions::new().filename(into.join("shimlight.db")).read_only(true);
        let mut conn = SqliteConnection::connect_with(&options).await.expect("a database");
        let newest = newest(&mut conn).await;
        let to_come: Vec<_> = newest.iter().filter(|(_, micros)| ago_min(*micros) < 0.0).collect();
        assert!(newest.len() > 40 && to_come.is_empty(), "{at}: not yet: {to_come:?}");
        let open: Vec<i64> = sqlx::query_scalar("SELECT opened_at FROM lab_session WHERE closed_at IS NULL")
            .fetch_all(&mut conn)
            .await
            .expect("sessions");
        assert!(open.len() == 1 && (60.0..240.0).contains(&ago_min(open[0])), "{at}: {open:?}");
        for (what, sql, count) in [
            ("sheets on their way", "SELECT since_at FROM sheet_way WHERE ended_at IS NULL", 4),
            ("calls", "SELECT called_at FROM help_call WHERE ended_at IS NULL", 1),
        ] {
            let since: Vec<i64> = sqlx::query_scalar(sql).fetch_all(&mut conn).await.expect("the floor");
            let since: Vec<f64> = since.into_iter().map(ago_min).collect();
            assert_eq!(since.len(), count, "{at}: {what} {since:?}");
            assert!(since.iter().all(|minutes| (0.0..16.0).contains(minutes)), "{at}: {what}, minutes ago: {since:?}");
        }
        conn.close().await.expect("closed");
    }
}
