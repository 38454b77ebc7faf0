//! Damage to the file is found, whatever it hits, and told as damage.

use std::{fs, os::unix::fs::FileExt, path::Path};

use hyper::StatusCode;
use shimlight::store;
use sqlx::{AssertSqlSafe, Connection, Row, SqliteConnection};

use crate::{
    lab::{Demo, Lab, rule},
    program::{Server, get, post, run, said},
};

/// The faults `check` finds in a file of the present schema, or that it cannot be read.
async fn found_wrong(file: &Path) -> Vec<String> {
    let Ok(mut conn) = store::look_at(file).await else { return vec!["it cannot be opened".to_owned()] };
    let found = match store::engine::check::run(&mut conn).await {
        Ok(faults) => faults.iter().map(ToString::to_string).collect(),
        Err(error) => vec![error.to_string()],
    };
    drop(conn.close().await);
    found
}

/// Every row of every table of ours, as SQL would write it.
async fn rows(conn: &mut SqliteConnection) -> Vec<String> {
    let tables = sqlx::query(
        "SELECT m.name, group_concat('quote(\"' || c.name || '\")', ' || char(32) || ') FROM sqlite_schema m, \
         pragma_table_info(m.name) c WHERE m.type = 'table' AND m.name NOT LIKE '\\_sqlx%' ESCAPE '\\' \
         AND m.name NOT LIKE 'sqlite\\_%' ESCAPE '\\' GROUP BY m.name ORDER BY m.name",
    );
    let mut all = Vec::new();
    for table in tables.fetch_all(&mut *conn).await.expect("its tables") {
        let (name, columns): (String, String) = (table.get(0), table.get(1));
        let sql = AssertSqlSafe(format!("SELECT {columns} FROM \"{name}\" ORDER BY 1"));
        let rows: Vec<String> = sqlx::query_scalar(sql).fetch_all(&mut *conn).await.expect("its rows");
        all.extend(rows.into_iter().map(|row| format!("{name}: {row}")));
    }
    all
}

async fn rows_of(file: &Path) -> Vec<String> {
    let mut conn = store::look_at(file).await.expect("it opens");
    let rows = rows(&mut conn).await;
    conn.close().await.expect("closed");
    rows
}

#[tokio::test]
async fn damage_anywhere_in_the_file_is_found_unless_it_hit_nothing_that_was_saved() {
    let demo = Demo::new();
    let folder = tempfile::tempdir().expect("a folder");
    let whole = fs::read(&demo.database).expect("the database");
    assert_eq!(found_wrong(&demo.database).await, Vec::<String>::new());
    let saved = rows_of(&demo.database).await;
    assert!(saved.len() > 300, "a story: {} rows", saved.len());
    let file = folder.path().join("damaged.db");
    // single bits and whole sectors, spread over the file
    let bits = (0..60).map(|number| (number * (whole.len() - 1) / 60 + number * 31 % 97, 1));
    let sectors = (0..30).map(|number| (number * (whole.len() / 512 - 1) / 30 * 512, 512));
    let (mut found, mut harmless) = (0, 0);
    for (number, (at, length)) in bits.chain(sectors).enumerate() {
        let mut damaged = whole.clone();
        let hit = &mut damaged[at..at + length];
        match hit {
            [one] => *one ^= 1 << (number % 8),
            many => {
                many.iter_mut().enumerate().for_each(|(place, byte)| *byte = (place * 151 + number * 57 + 13) as u8);
            }
        }
        fs::write(&file, &damaged).expect("written");
        if found_wrong(&file).await.is_empty() {
            assert_eq!(
                rows_of(&file).await,
                saved,
                "{length} bytes at {at} changed what was saved, and were not found"
            );
            harmless += 1;
        } else {
            found += 1;
        }
    }
    assert!(found > 25, "{found} found, {harmless} hit nothing that was saved");
}

#[tokio::test]
async fn a_row_that_changed_behind_the_programs_back_is_found() {
    let lab = Lab::new().await;
    let mut conn = store::look_at(&lab.database).await.expect("it opens");
    sqlx::query("UPDATE site SET place = 'elsewhere'").execute(&mut conn).await.expect("changed");
    conn.close().await.expect("closed");
    let output = run(&lab.database, &["check"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert!(said(&output).contains("what stands in site is not what was saved"), "{}", said(&output));
}

#[tokio::test]
async fn a_backup_with_another_schema_is_neither_sound_nor_put_in_place() {
    let lab = Lab::new().await;
    for (sql, words) in [
        ("DROP TABLE receipt", "the table receipt is missing"),
        (
            "CREATE TRIGGER forget_names AFTER INSERT ON site BEGIN DELETE FROM student; END",
            "the trigger forget_names is none that Shimlight makes",
        ),
    ] {
        let backup = lab.path("backup.db");
        let made = run(&lab.database, &["backup", backup.to_str().expect("text")]);
        assert!(made.status.success(), "{}", said(&made));
        fs::remove_file(lab.path("backup.db.tally")).expect("a tally");
        let mut conn = store::look_at(&backup).await.expect("it opens");
        sqlx::query(sql).execute(&mut conn).await.expect("changed");
        conn.close().await.expect("closed");
        for arguments in [["check", backup.to_str().expect("text")], ["restore", backup.to_str().expect("text")]] {
            let output = run(&lab.database, &arguments);
            assert_eq!(output.status.code(), Some(1), "{arguments:?}: {}", said(&output));
            assert!(said(&output).contains(words), "{arguments:?}: {}", said(&output));
        }
        fs::remove_file(&backup).expect("there");
    }
}

#[tokio::test]
async fn a_damaged_page_is_told_as_damage_and_the_server_is_not_well() {
    let lab = Lab::new().await;
    let mut conn = store::look_at(&lab.database).await.expect("it opens");
    let page: i64 = sqlx::query_scalar("SELECT rootpage FROM sqlite_schema WHERE name = 'site'")
        .fetch_one(&mut conn)
        .await
        .expect("a page");
    conn.close().await.expect("closed");
    let file = fs::File::options().write(true).open(&lab.database).expect("there");
    file.write_all_at(&[0xa5; 4096], (u64::try_from(page).expect("a page") - 1) * 4096).expect("written");
    let server = Server::start(&lab.database, &[]);
    let page = get(&server.address, "/front/site", &lab.cookie).await.expect("an answer");
    assert_eq!(page.status, StatusCode::SERVICE_UNAVAILABLE, "{}", page.body);
    assert!(page.body.contains("The file is damaged") && page.body.contains("restore"), "{}", page.body);
    assert!(!page.body.contains("ould not be saved"), "{}", page.body);
    let health = get(&server.address, "/health", "").await.expect("an answer");
    assert_eq!(
        (health.status, health.body.as_str()),
        (StatusCode::SERVICE_UNAVAILABLE, "the database file is damaged\n")
    );
    let fields = rule("0197e3a0-0000-7000-8000-000000000001", "typed with care");
    let sent = post(&server.address, "/front/site/rules", &lab.cookie, &fields).await.expect("an answer");
    assert_eq!(sent.status, StatusCode::SERVICE_UNAVAILABLE, "{}", sent.body);
    assert!(!sent.body.contains("ould not be saved"), "{}", sent.body);
    server.kill();
}

#[tokio::test]
async fn any_bit_of_a_backup_that_changed_is_found_and_a_whole_one_is_rehearsed() {
    let lab = Lab::new().await;
    let backup = lab.path("shimlight-2026-03-20.db");
    let text = backup.to_str().expect("text");
    let made = run(&lab.database, &["backup", text]);
    assert!(made.status.success(), "{}", said(&made));
    let tally = fs::read_to_string(lab.path("shimlight-2026-03-20.db.tally")).expect("a tally");
    assert!(tally.contains("\nrows site 1\n"), "{tally}");
    let checked = run(&lab.database, &["check", text]);
    assert!(checked.status.success() && said(&checked).contains("unchanged since it was made"), "{}", said(&checked));

    let server = Server::start(&lab.database, &[]);
    let before = get(&server.address, "/front", &lab.cookie).await.expect("an answer");
    assert!(before.body.contains("never yet"), "{}", before.body);
    let rehearsed = run(&lab.database, &["rehearse", lab.folder.path().to_str().expect("text")]);
    assert!(rehearsed.status.success(), "{}", said(&rehearsed));
    assert!(said(&rehearsed).contains("checked and sound, and unchanged since it was made"), "{}", said(&rehearsed));
    let after = get(&server.address, "/front", &lab.cookie).await.expect("an answer");
    assert!(!after.body.contains("never yet"), "{}", after.body);
    server.stop();

    // a bit where nothing stands: no check of what the file holds would see it
    let mut bytes = fs::read(&backup).expect("there");
    let last = bytes.len() - 1;
    bytes[last] ^= 1;
    fs::write(&backup, bytes).expect("written");
    for command in ["check", "restore", "rehearse"] {
        let output = run(&lab.database, &[command, text]);
        assert_eq!(output.status.code(), Some(1), "{command}: {}", said(&output));
        assert!(said(&output).contains("is not what it was when it was made"), "{command}: {}", said(&output));
    }
}

#[tokio::test]
async fn what_a_killed_backup_left_goes_with_the_next_one() {
    let lab = Lab::new().await;
    let (left, written) = (lab.path("shimlight-2026-03-19.db.part"), lab.path("being-written.db.part"));
    let others = lab.path("holiday.mov.part");
    for path in [&left, &written, &others] {
        fs::write(path, "half of it").expect("written");
    }
    let held = fs::File::open(&written).expect("there");
    held.lock().expect("held as one that is being written");
    let made = run(&lab.database, &["backup", lab.path("evening.db").to_str().expect("text")]);
    assert!(made.status.success(), "{}", said(&made));
    assert!(!left.exists() && written.exists() && others.exists());
    assert!(!lab.path("evening.db.part").exists());
}
