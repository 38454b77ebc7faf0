//! Backup, restore, check: what an instructor does with the file over the years.

use std::{fs, path::Path};

use hyper::StatusCode;
use shimlight::{clock::World, store::Store};
use sqlx::{Connection, SqliteConnection, sqlite::SqliteConnectOptions};

use crate::{
    lab::{Lab, rule, rule_sources},
    program::{Server, files, get, post, run, said},
};

#[tokio::test]
async fn a_backup_made_while_forms_are_saved_is_whole_and_can_be_put_back() {
    let lab = Lab::new().await;
    let server = Server::start(&lab.database, &[]);
    let backup = lab.path("evening.db");
    let copying = tokio::task::spawn_blocking({
        let (database, backup) = (lab.database.clone(), backup.to_string_lossy().into_owned());
        move || run(&database, &["backup", &backup])
    });
    let world = World::system();
    for number in 0..60 {
        let form_id = world.mint::<shimlight::domain::ids::FormId>().to_string();
        let source = format!("letter {number:02}");
        let fields = rule(&form_id, &source);
        let answer = post(&server.address, "/front/site/rules", &lab.cookie, &fields).await.expect("an answer");
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    }
    let copied = copying.await.expect("it ran");
    assert!(copied.status.success(), "{}", said(&copied));

    let refused = run(&lab.database, &["restore", backup.to_str().expect("text")]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(said(&refused).contains("stop the server first"), "{}", said(&refused));
    assert_eq!(rule_sources(&lab.database).await.len(), 60, "nothing was changed");
    server.stop();

    // looked at in a copy: whatever opens a database may write to its head
    let looked_at = lab.path("looked-at.db");
    fs::copy(&backup, &looked_at).expect("a copy");
    let held = rule_sources(&looked_at).await;
    let restored = run(&lab.database, &["restore", backup.to_str().expect("text")]);
    assert!(restored.status.success(), "{}", said(&restored));
    assert_eq!(rule_sources(&lab.database).await, held);
    let kept = files(lab.folder.path()).into_iter().find(|(name, _)| name.to_string_lossy().contains("replaced-"));
    let kept = lab.folder.path().join(kept.expect("the old file is kept").0);
    assert_eq!(rule_sources(&kept).await.len(), 60);
    let checked = run(&lab.database, &["check"]);
    assert!(checked.status.success(), "{}", said(&checked));
}

#[tokio::test]
async fn a_backup_never_overwrites_a_file() {
    let lab = Lab::new().await;
    let there = lab.path("there.db");
    fs::write(&there, "something of somebody's").expect("a file");
    let output = run(&lab.database, &["backup", there.to_str().expect("text")]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert_eq!(fs::read_to_string(&there).expect("still there"), "something of somebody's");
}

#[tokio::test]
async fn what_is_no_sound_backup_is_not_put_in_place() {
    let lab = Lab::new().await;
    let before = rule_sources(&lab.database).await;
    let text = lab.path("letter.txt");
    fs::write(&text, "Dear safety office, ".repeat(400)).expect("a file");
    let other = lab.path("other.db");
    let mut conn =
        SqliteConnection::connect_with(&SqliteConnectOptions::new().filename(&other).create_if_missing(true))
            .await
            .expect("a database");
    sqlx::query("CREATE TABLE recipe (name TEXT)").execute(&mut conn).await.expect("a table");
    conn.close().await.expect("closed");
    let cut = lab.path("cut.db");
    let whole = fs::read(&lab.database).expect("the database");
    fs::write(&cut, &whole[..whole.len() / 2]).expect("half of it");

    for (file, words) in [(&text, "cannot be read"), (&other, "is not a database of Shimlight"), (&cut, "")] {
        let output = run(&lab.database, &["restore", file.to_str().expect("text")]);
        assert_eq!(output.status.code(), Some(1), "{} {}", file.display(), said(&output));
        assert!(said(&output).contains("nothing was changed"), "{}", said(&output));
        assert!(said(&output).contains(words), "{}", said(&output));
    }
    assert_eq!(rule_sources(&lab.database).await, before);
    let left = files(lab.folder.path()).into_iter().find(|(name, _)| name.to_string_lossy().contains("incoming"));
    assert!(left.is_none(), "nothing is left lying about");
}

#[tokio::test]
async fn a_file_of_a_newer_shimlight_is_left_alone() {
    let lab = Lab::new().await;
    let mut conn =
        SqliteConnection::connect_with(&SqliteConnectOptions::new().filename(&lab.database)).await.expect("a database");
    sqlx::query("UPDATE _sqlx_migrations SET version = 99990101000000 WHERE version = (SELECT max(version) FROM _sqlx_migrations)").execute(&mut conn).await.expect("dated");
    conn.close().await.expect("closed");
    for arguments in [&["serve", "--listen", "127.0.0.1:0"][..], &["check"], &["export", "--into", "x"]] {
        let output = run(&lab.database, arguments);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        assert!(said(&output).contains("newer Shimlight"), "{arguments:?}: {}", said(&output));
    }
}

#[tokio::test]
async fn a_damaged_file_does_not_pass_the_check() {
    let lab = Lab::new().await;
    let mut conn =
        SqliteConnection::connect_with(&SqliteConnectOptions::new().filename(&lab.database).foreign_keys(false))
            .await
            .expect("a database");
    sqlx::query("INSERT INTO section (id, site_id, name, door_code, created_at) VALUES (randomblob(16), randomblob(16), 'Nowhere', 'LOST', 0)")
        .execute(&mut conn)
        .await
        .expect("a stray section");
    conn.close().await.expect("closed");
    let output = run(&lab.database, &["check"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(said(&output).contains("of section names a site that is not there"), "{}", said(&output));
}

#[tokio::test]
async fn a_database_that_is_not_there_is_not_made_by_asking_for_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let database = folder.path().join("shimlight.db");
    for arguments in [&["check"][..], &["backup", "b.db"], &["instructor", "reset", "ines"]] {
        let output = run(&database, arguments);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        assert!(said(&output).contains("there is no database"), "{}", said(&output));
    }
    assert!(!database.exists());
}

#[tokio::test]
async fn an_instructor_is_made_and_mended_by_a_link() {
    let lab = Lab::new().await;
    let added = run(&lab.database, &["instructor", "add", "noor", "Noor Halvorsen"]);
    assert!(added.status.success(), "{}", said(&added));
    assert!(said(&added).contains("/new-password/"), "{}", said(&added));
    let again = run(&lab.database, &["instructor", "add", "NOOR", "Another"]);
    assert_eq!(again.status.code(), Some(1), "{}", said(&again));
    let reset = run(&lab.database, &["instructor", "reset", "noor"]);
    assert!(reset.status.success(), "{}", said(&reset));
    let nobody = run(&lab.database, &["instructor", "reset", "nobody"]);
    assert_eq!(nobody.status.code(), Some(1), "{}", said(&nobody));
}

#[tokio::test]
async fn the_days_backup_is_made_once_and_opens() {
    let lab = Lab::new().await;
    let folder = lab.path("backups");
    let server = Server::start(&lab.database, &["--backup-into", folder.to_str().expect("text")]);
    server.waits_for("backup is made");
    server.stop();
    let made: Vec<_> = files(&folder).into_iter().map(|(name, _)| name.to_string_lossy().into_owned()).collect();
    let backups: Vec<_> = made.iter().filter(|name| !name.ends_with(".tally")).collect();
    assert_eq!((made.len(), backups.len()), (2, 1), "one backup and its tally: {made:?}");
    let store = Store::open(&folder.join(backups[0])).await.expect("a sound database");
    store.close().await;
}

#[test]
fn cases_are_answered_without_a_database() {
    let listed = run(Path::new("/nowhere/at-all.db"), &["calc", "--list"]);
    assert!(listed.status.success(), "{}", said(&listed));
    let unread = run(Path::new("/nowhere/at-all.db"), &["calc", "no-such-file.jsonl"]);
    assert_eq!(unread.status.code(), Some(2), "{}", said(&unread));
}

#[tokio::test]
async fn the_front_bench_says_when_the_last_backup_was_made() {
    let lab = Lab::new().await;
    let server = Server::start(&lab.database, &[]);
    let before = get(&server.address, "/front", &lab.cookie).await.expect("an answer");
    assert!(before.body.contains("none was made yet") && before.body.contains("Room on the disk"), "{}", before.body);
    let copied = run(&lab.database, &["backup", lab.path("evening.db").to_str().expect("text")]);
    assert!(copied.status.success(), "{}", said(&copied));
    let after = get(&server.address, "/front", &lab.cookie).await.expect("an answer");
    assert!(after.body.contains("less than an hour ago"), "{}", after.body);
    server.stop();
}
