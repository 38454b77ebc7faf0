//! The database file taken away, replaced or linked twice: nothing is answered for that is not kept.

use std::{
    fs,
    os::unix::fs::{MetadataExt, PermissionsExt, symlink},
    path::{Path, PathBuf},
};

use hyper::StatusCode;
use shimlight::{clock::World, domain::ids::FormId};

use crate::{
    lab::{Lab, rule, rule_sources},
    program::{Answer, Server, files, get, post, run, said},
};

async fn save(server: &Server, lab: &Lab, source: &str) -> Answer {
    let form_id = World::system().mint::<FormId>().to_string();
    post(&server.address, "/front/site/rules", &lab.cookie, &rule(&form_id, source)).await.expect("an answer")
}

async fn saves(server: &Server, lab: &Lab, source: &str) {
    let answer = save(server, lab, source).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
}

/// A form is turned away with the reason, and what was typed comes back.
async fn is_turned_away(server: &Server, lab: &Lab, source: &str) {
    let answer = save(server, lab, source).await;
    assert_eq!(answer.status, StatusCode::SERVICE_UNAVAILABLE, "{}", answer.body);
    assert!(answer.body.contains("moved or replaced"), "{}", answer.body);
    assert!(answer.body.contains(source), "what was typed comes back: {}", answer.body);
    let health = get(&server.address, "/health", "").await.expect("an answer");
    assert_eq!(health.status, StatusCode::SERVICE_UNAVAILABLE);
    assert!(health.body.contains("moved or replaced"), "{}", health.body);
}

fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut whole = path.as_os_str().to_owned();
    whole.push(ending);
    whole.into()
}

fn beside(lab: &Lab, part_of_name: &str) -> PathBuf {
    let found = files(lab.folder.path()).into_iter().find(|(name, _)| name.to_string_lossy().contains(part_of_name));
    lab.folder.path().join(found.unwrap_or_else(|| panic!("no {part_of_name} stands beside")).0)
}

fn refused(database: &Path, arguments: &[&str]) -> String {
    let output = run(database, arguments);
    assert_eq!(output.status.code(), Some(1), "{arguments:?}: {}", said(&output));
    said(&output)
}

fn succeeds(database: &Path, arguments: &[&str]) -> String {
    let output = run(database, arguments);
    assert!(output.status.success(), "{arguments:?}: {}", said(&output));
    said(&output)
}

const SERVE: [&str; 3] = ["serve", "--listen", "127.0.0.1:0"];

#[tokio::test]
async fn a_file_deleted_under_the_server_takes_no_more_and_what_was_saved_is_put_back() {
    let lab = Lab::new().await;
    let server = Server::start(&lab.database, &[]);
    saves(&server, &lab, "before it went").await;
    fs::remove_file(&lab.database).expect("it was there");
    is_turned_away(&server, &lab, "after it went").await;
    let page = get(&server.address, "/front/site", &lab.cookie).await.expect("an answer");
    assert_eq!(page.status, StatusCode::OK, "pages are still shown");
    server.kill();

    let words = refused(&lab.database, &SERVE);
    assert!(words.contains("--new") && words.contains("restore"), "{words}");
    assert!(!lab.database.exists(), "no empty database is made");
    let rescued = beside(&lab, "rescued-");
    succeeds(&lab.database, &["restore", rescued.to_str().expect("text")]);
    assert_eq!(rule_sources(&lab.database).await, ["before it went"]);
    succeeds(&lab.database, &["check"]);
}

#[tokio::test]
async fn a_file_put_in_the_place_of_the_served_one_is_not_written_to_and_stays_sound() {
    let lab = Lab::new().await;
    let other = lab.path("other.db");
    succeeds(&lab.database, &["backup", other.to_str().expect("text")]);
    let server = Server::start(&lab.database, &[]);
    for number in 0..30 {
        saves(&server, &lab, &format!("letter {number:02}")).await;
    }
    fs::rename(&other, &lab.database).expect("moved in");
    is_turned_away(&server, &lab, "after it went").await;
    // the power goes: the log of the old file stands beside the new one
    server.kill();
    assert!(with_ending(&lab.database, "-wal").exists());
    let moved_in = fs::read(&lab.database).expect("there");
    let words = refused(&lab.database, &SERVE);
    assert!(words.contains("-wal"), "{words}");
    assert_eq!(fs::read(&lab.database).expect("there"), moved_in, "nothing was written into it");
    let rescued = beside(&lab, "rescued-");
    succeeds(&lab.database, &["restore", rescued.to_str().expect("text")]);
    assert_eq!(rule_sources(&lab.database).await.len(), 30);
    succeeds(&lab.database, &["check"]);
}

#[tokio::test]
async fn a_log_deleted_under_the_server_is_noticed_and_the_file_put_back_goes_on() {
    let lab = Lab::new().await;
    let server = Server::start(&lab.database, &[]);
    saves(&server, &lab, "before it went").await;
    let (wal, aside) = (with_ending(&lab.database, "-wal"), lab.path("aside"));
    fs::rename(&wal, &aside).expect("it was there");
    is_turned_away(&server, &lab, "after it went").await;
    fs::rename(&aside, &wal).expect("put back");
    saves(&server, &lab, "once it was put back").await;
    let health = get(&server.address, "/health", "").await.expect("an answer");
    assert_eq!(health.status, StatusCode::OK, "{}", health.body);
    server.stop();
    assert_eq!(rule_sources(&lab.database).await, ["before it went", "once it was put back"]);
}

#[tokio::test]
async fn one_file_is_served_once_whatever_it_is_called() {
    let lab = Lab::new().await;
    let (link, twin) = (lab.path("link.db"), lab.path("twin.db"));
    symlink(&lab.database, &link).expect("a link");
    fs::hard_link(&lab.database, &twin).expect("a second name");
    let server = Server::start(&lab.database, &[]);
    for name in [&link, &twin] {
        let words = refused(name, &SERVE);
        assert!(words.contains("already being served"), "{words}");
    }
    server.stop();
    let server = Server::start(&link, &[]);
    assert!(refused(&lab.database, &SERVE).contains("already being served"));
    server.stop();
}

#[tokio::test]
async fn a_link_that_leads_nowhere_makes_no_database() {
    let folder = tempfile::tempdir().expect("a folder");
    let link = folder.path().join("shimlight.db");
    symlink(folder.path().join("stick/shimlight.db"), &link).expect("a link");
    assert!(refused(&link, &SERVE).contains("not there"));
}

#[tokio::test]
async fn no_new_database_is_made_beside_the_traces_of_another() {
    for trace in ["shimlight.db-wal", "shimlight.db.incoming", "shimlight.db.replaced-20260320T180000Z"] {
        let folder = tempfile::tempdir().expect("a folder");
        let database = folder.path().join("shimlight.db");
        fs::write(folder.path().join(trace), "something of somebody's").expect("a file");
        let words = refused(&database, &SERVE);
        assert!(words.contains(trace) && words.contains("--new"), "{words}");
        assert!(!database.exists(), "{trace}");
    }
}

#[tokio::test]
async fn where_a_database_was_served_no_new_one_is_made_without_being_told() {
    let lab = Lab::new().await;
    Server::start(&lab.database, &[]).stop();
    fs::remove_file(&lab.database).expect("it was there");
    assert!(refused(&lab.database, &SERVE).contains("--new"));
    // an empty file is as good as none
    fs::write(&lab.database, "").expect("a file");
    assert!(refused(&lab.database, &SERVE).contains("--new"));
    assert_eq!(fs::metadata(&lab.database).expect("there").len(), 0);

    let wal = with_ending(&lab.database, "-wal");
    fs::write(&wal, "the log of the old one").expect("a file");
    let server = Server::start(&lab.database, &["--new"]);
    server.prints("/first/");
    server.stop();
    let kept = beside(&lab, "replaced-");
    assert_eq!(fs::read_to_string(kept).expect("kept"), "the log of the old one");
    // and one that is there is never begun anew
    assert!(refused(&lab.database, &["serve", "--listen", "127.0.0.1:0", "--new"]).contains("is there already"));
}

#[tokio::test]
async fn the_log_of_a_lost_file_is_not_read_into_a_restored_one() {
    let lab = Lab::new().await;
    let server = Server::start(&lab.database, &[]);
    saves(&server, &lab, "in the backup").await;
    let backup = lab.path("backup.db");
    succeeds(&lab.database, &["backup", backup.to_str().expect("text")]);
    for number in 0..30 {
        saves(&server, &lab, &format!("letter {number:02}")).await;
    }
    server.kill();
    fs::remove_file(&lab.database).expect("it was there");
    assert!(with_ending(&lab.database, "-wal").exists());
    succeeds(&lab.database, &["restore", backup.to_str().expect("text")]);
    assert_eq!(rule_sources(&lab.database).await, ["in the backup"]);
    succeeds(&lab.database, &["check"]);
}

#[tokio::test]
async fn whatever_is_made_is_its_owners_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let database = folder.path().join("shimlight.db");
    let backups = folder.path().join("backups");
    let server = Server::start(&database, &["--backup-into", backups.to_str().expect("text")]);
    server.waits_for("backup is made");
    let csv = folder.path().join("csv");
    succeeds(&database, &["export", "--into", csv.to_str().expect("text")]);
    succeeds(&database, &["backup", folder.path().join("one.db").to_str().expect("text")]);
    let demo = folder.path().join("demo");
    succeeds(&database, &["demo", "--no-serve", "--into", demo.to_str().expect("text")]);
    let mut seen = 0;
    for (name, _) in files(folder.path()) {
        let path = folder.path().join(&name);
        assert_eq!(fs::metadata(&path).expect("there").mode() & 0o777, 0o600, "{}", name.display());
        let holds = path.parent().expect("a folder");
        if holds != folder.path() {
            assert_eq!(fs::metadata(holds).expect("there").permissions().mode() & 0o777, 0o700, "{}", holds.display());
        }
        seen += 1;
    }
    assert!(seen > 10, "{seen} files");
    server.stop();
}
