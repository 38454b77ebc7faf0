//! The power goes while the silver book is written: its laws hold, and what was answered for is in it
//! once.

use std::{collections::BTreeMap, path::Path, sync::Arc};

use hyper::StatusCode;
use jiff::tz::TimeZone;
use shimlight::{
    clock::World,
    domain::{
        actor::Role,
        container::Contents,
        ids::{AccountId, FormId},
        product::ProductKind,
    },
    secrets,
    store::{self, Stamp, Store},
};
use tokio::{sync::Notify, task::JoinSet};

use crate::{
    lab::Demo,
    program::{self, PATIENCE, Server, post},
};

const SENT: usize = 60;

/// A form of the chemistry and waste pages.
#[derive(Clone)]
struct Form {
    path: String,
    fields: Vec<(&'static str, String)>,
    remark: String,
}

/// Signs somebody in and gives the cookie, the page of a fixer in use, and that of the fixer's
/// container.
async fn at_the_front(database: &Path) -> (String, String, String) {
    let world = World::system();
    let store = Store::open(database).await.expect("a sound database");
    let mut conn = store.read().await.expect("a reader");
    let batches = store::batches::list_in_use(&mut conn).await.expect("batches");
    let fixer = batches.iter().find(|batch| batch.kind == ProductKind::Fixer).expect("a fixer in use").id;
    let containers = store::containers::list(&mut conn).await.expect("containers");
    let open =
        |one: &&shimlight::domain::container::Container| one.takes_more() && one.contents == Contents::SpentFixer;
    let can = containers.iter().find(open).expect("a container for fixer").id;
    drop(conn);
    let (at, token, account) = (world.now(), secrets::new_token(&world.chance), world.mint::<AccountId>());
    let hash = secrets::token_hash(&token);
    let seated = store.write(Stamp::server(world.mint(), at), move |tx| {
        Box::pin(async move {
            store::accounts::insert(tx, account, Role::Assistant, "otis", "Otis Brae", "none", at).await?;
            store::sign_ins::insert(tx, &hash, Some(account), None, false, at).await?;
            Ok(String::new())
        })
    });
    seated.await.expect("signed in");
    store.close().await;
    (
        format!("shimlight_seat={token}"),
        format!("/front/chemistry/batches/{fixer}"),
        format!("/front/waste/containers/{can}"),
    )
}

/// Pours, topping up, readings and spills in turn, each told apart by its remark.
fn forms(round: usize, now: &str, fixer: &str, can: &str) -> Vec<Form> {
    let world = World::system();
    let into = can.rsplit('/').next().expect("an id").to_owned();
    (0..SENT)
        .map(|number| {
            let remark = format!("round {round} movement {number:03}");
            let text = |value: &str| value.to_owned();
            let (path, mut fields) = match number % 4 {
                0 => (format!("{fixer}/pour"), vec![("volume", text("2")), ("into", into.clone())]),
                1 => {
                    let fields = vec![
                        ("measured", text("1200")),
                        ("missing", text("evaporated")),
                        ("addition", text("fresh")),
                        ("added", text("5")),
                    ];
                    (format!("{fixer}/top-up"), fields)
                }
                2 => (
                    format!("{can}/reading"),
                    vec![
                        ("method", text("laboratory")),
                        ("silver", text("0.4")),
                        ("low", text("0.3")),
                        ("high", text("0.5")),
                    ],
                ),
                _ => (format!("{can}/write-off"), vec![("loss", text("spill")), ("volume", text("1"))]),
            };
            fields.extend([
                ("form_id", world.mint::<FormId>().to_string()),
                ("happened_at", now.to_owned()),
                ("remark", remark.clone()),
            ]);
            Form { path, fields, remark }
        })
        .collect()
}

async fn send(address: &str, cookie: &str, form: &Form) -> Option<StatusCode> {
    let fields: Vec<(&str, &str)> = form.fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let answer = post(address, &form.path, cookie, &fields).await?;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}: {}", form.path, answer.body);
    Some(answer.status)
}

/// How many movements there are of each remark.
async fn movements(database: &Path) -> BTreeMap<String, usize> {
    let store = Store::open(database).await.expect("a sound database");
    let mut conn = store.read().await.expect("a reader");
    let mut counts = BTreeMap::new();
    for movement in store::book::list_movements(&mut conn).await.expect("movements") {
        // what was missing stands before what was typed
        if let Some(at) = movement.remark.find("round ") {
            *counts.entry(movement.remark[at..].to_owned()).or_default() += 1;
        }
    }
    drop(conn);
    store.close().await;
    counts
}

fn proves_itself(database: &Path) {
    let checked = program::run(database, &["check"]);
    assert!(checked.status.success(), "{}", program::said(&checked));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn killed_amid_the_chemistry_the_silver_book_keeps_its_laws_and_has_each_movement_once() {
    let demo = Demo::new();
    let (cookie, fixer, can) = at_the_front(&demo.database).await;
    let zone = TimeZone::get("America/New_York").expect("bundled zones");
    let now = World::system().now().as_local_control(&zone);
    let mut stored = 0;
    // a fast machine may answer all before the signal arrives: then it is tried again, sooner
    for (round, mark) in [15, 4, 1, 1, 1].into_iter().enumerate() {
        let all = Arc::new(forms(round, &now, &fixer, &can));
        let enough = Arc::new(Notify::new());
        let server = Server::start(&demo.database, &[]);
        let mut tasks = JoinSet::new();
        let answered = Arc::new(std::sync::atomic::AtomicUsize::new(0));
        for number in 0..SENT {
            let (all, enough, answered) = (Arc::clone(&all), Arc::clone(&enough), Arc::clone(&answered));
            let (address, cookie) = (server.address.clone(), cookie.clone());
            tasks.spawn(async move {
                send(&address, &cookie, &all[number]).await?;
                if answered.fetch_add(1, std::sync::atomic::Ordering::SeqCst) + 1 == mark {
                    enough.notify_one();
                }
                Some(number)
            });
        }
        tokio::time::timeout(PATIENCE, enough.notified()).await.expect("answers arrive");
        server.kill();
        let acknowledged: Vec<usize> = tasks.join_all().await.into_iter().flatten().collect();
        proves_itself(&demo.database);
        let there = movements(&demo.database).await;
        for number in &acknowledged {
            assert_eq!(there.get(&all[*number].remark), Some(&1), "{} was acknowledged", all[*number].remark);
        }

        let server = Server::start(&demo.database, &[]);
        for form in all.iter() {
            send(&server.address, &cookie, form).await.expect("an answer");
        }
        server.stop();
        stored += SENT;
        let there = movements(&demo.database).await;
        assert_eq!((there.len(), there.values().sum()), (stored, stored), "each form made one movement");
        proves_itself(&demo.database);
        if acknowledged.len() < SENT {
            return;
        }
    }
    panic!("the server was never killed before it had answered everything");
}
