//! A database with a site and an instructor who is signed in, made before the program starts.

use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;
use shimlight::{
    clock::World,
    domain::{
        ids::{AccountId, SiteId},
        people::actor::Role,
        site::Site,
    },
    secrets,
    store::{self, Stamp, Store},
};
use tempfile::TempDir;

use crate::program::{run, said};

/// A folder with a database in it.
pub struct Lab {
    pub folder: TempDir,
    pub database: PathBuf,
    /// The instructor's cookie.
    pub cookie: String,
}

impl Lab {
    pub async fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let database = folder.path().join("shimlight.db");
        let world = World::system();
        let store = Store::open(&database).await.expect("a fresh database");
        let (at, account) = (world.now(), world.mint::<AccountId>());
        let token = secrets::new_token(&world.chance);
        let hash = secrets::token_hash(&token);
        let site = Site {
            id: world.mint::<SiteId>(),
            name: "Harbour darkroom".to_owned(),
            place: String::new(),
            zone: TimeZone::UTC,
            position: None,
            elevation_m: 0,
            disposal_contact: String::new(),
            waste_title: String::new(),
            emergency_line: String::new(),
            silver_limit_ug_per_l: None,
            silver_limit_source: String::new(),
            version: 1,
        };
        let setting = store.write(Stamp::server(at), move |tx| {
            Box::pin(async move {
                store::people::accounts::insert(tx, account, Role::Instructor, "ines", "Ines Quarry", "none", at)
                    .await?;
                store::people::sign_ins::insert(tx, &hash, Some(account), None, false, at).await?;
                store::site::sites::insert(tx, &site, at).await?;
                Ok(String::new())
            })
        });
        setting.await.expect("the lab is set up");
        store.close().await;
        Self { folder, database, cookie: format!("shimlight_seat={token}") }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }
}

/// The demo's database, told as of now.
pub struct Demo {
    _folder: TempDir,
    pub database: PathBuf,
}

impl Demo {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let database = folder.path().join("shimlight.db");
        let into = folder.path().to_str().expect("a plain path");
        let told = run(&folder.path().join("none.db"), &["demo", "--no-serve", "--into", into]);
        assert!(told.status.success(), "{}", said(&told));
        Self { _folder: folder, database }
    }
}

/// Now by the clocks of the lab, whose zone the demo chooses by the hour; as forms take it.
pub async fn now_at_the_lab(database: &Path) -> String {
    let store = Store::open(database).await.expect("a sound database");
    let mut conn = store.read().await.expect("a reader");
    let zone = store::site::sites::find(&mut conn).await.expect("the site").expect("a site").zone;
    drop(conn);
    store.close().await;
    World::system().now().as_local_control(&zone)
}

/// Seats the student with that roster number; gives the cookie.
pub async fn student_at_the_bench(database: &Path, roster_number: &str) -> String {
    let world = World::system();
    let store = Store::open(database).await.expect("a sound database");
    let mut conn = store.read().await.expect("a reader");
    let section = store::people::sections::list(&mut conn).await.expect("sections").remove(0);
    let student =
        store::people::students::find_on_roster(&mut conn, section.id, roster_number).await.expect("the roster");
    let student = student.expect("a student with that number").id;
    drop(conn);
    let (at, token) = (world.now(), secrets::new_token(&world.chance));
    let hash = secrets::token_hash(&token);
    let seated = store.write(Stamp::server(at), move |tx| {
        Box::pin(async move {
            store::people::sign_ins::insert(tx, &hash, None, Some(student), false, at).await?;
            Ok(String::new())
        })
    });
    seated.await.expect("a seat");
    store.close().await;
    format!("shimlight_seat={token}")
}

/// The sources of all removal rules in a database: what the tests write and count.
pub async fn rule_sources(database: &Path) -> Vec<String> {
    let store = Store::open(database).await.expect("a sound database");
    let mut conn = store.read().await.expect("a reader");
    let rules = store::site::site_rules::list(&mut conn).await.expect("rules");
    drop(conn);
    store.close().await;
    let mut sources: Vec<String> = rules.into_iter().map(|rule| rule.source).collect();
    sources.sort();
    sources
}

/// A removal rule as the form sends it, told apart by its source.
pub fn rule<'a>(form_id: &'a str, source: &'a str) -> [(&'a str, &'a str); 5] {
    [("form_id", form_id), ("clock", "full"), ("span", "3"), ("unit", "days"), ("source", source)]
}
