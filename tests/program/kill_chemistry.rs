//! The power goes while the silver book is written: its laws hold, and what was answered for is in it
//! once.

use std::{collections::BTreeMap, path::Path, sync::Arc};

use hyper::StatusCode;
use shimlight::{
    clock::World,
    domain::{
        ids::{AccountId, FormId},
        people::actor::Role,
        stock::product::ProductKind,
        waste::container::Contents,
    },
    secrets,
    store::{self, Stamp, Store},
};

use crate::{
    lab::{Demo, now_at_the_lab},
    power_cut,
    program::{self, Answer, Server, post},
};

const SENT: usize = 60;

/// A form of the chemistry and waste pages.
#[derive(Clone)]
struct Form {
    path: String,
    fields: Vec<(&'static str, String)>,
    remark: String,
}

/// Who sends, and what the forms are about, by their pages.
struct Front {
    cookie: String,
    /// A fixer in use.
    fixer: String,
    /// Its container, and those for the first rinse and for scrap.
    can: String,
    rinse: String,
    scrap: String,
    /// By their ids.
    paper: String,
    product: String,
}

/// Signs somebody in and finds what stands there.
async fn at_the_front(database: &Path) -> Front {
    let world = World::system();
    let store = Store::open(database).await.expect("a sound database");
    let mut conn = store.read().await.expect("a reader");
    let batches = store::baths::batches::list_in_use(&mut conn).await.expect("batches");
    let fixer = batches.iter().find(|batch| batch.kind == ProductKind::Fixer).expect("a fixer in use").id;
    let containers = store::waste::containers::list(&mut conn).await.expect("containers");
    let page_of = |contents| {
        let open = containers.iter().find(|one| one.takes_more() && one.contents == contents);
        format!("/front/waste/containers/{}", open.expect("a container for it").id)
    };
    let can = page_of(Contents::SpentFixer);
    let (rinse, scrap) = (page_of(Contents::FirstRinse), page_of(Contents::Scrap));
    let shelf = store::stock::products::list(&mut conn).await.expect("products");
    let product = shelf.iter().find(|product| product.kind == ProductKind::Fixer).expect("a fixer stocked").id;
    let papers = store::stock::papers::list(&mut conn).await.expect("papers");
    let paper = papers.iter().find(|paper| paper.silver_ug_per_m2 > 0).expect("a paper").id;
    drop(conn);
    let (at, token, account) = (world.now(), secrets::new_token(&world.chance), world.mint::<AccountId>());
    let hash = secrets::token_hash(&token);
    let seated = store.write(Stamp::server(at), move |tx| {
        Box::pin(async move {
            store::people::accounts::insert(tx, account, Role::Assistant, "otis", "Otis Brae", "none", at).await?;
            store::people::sign_ins::insert(tx, &hash, Some(account), None, false, at).await?;
            Ok(String::new())
        })
    });
    seated.await.expect("signed in");
    store.close().await;
    Front {
        cookie: format!("shimlight_seat={token}"),
        fixer: format!("/front/chemistry/batches/{fixer}"),
        can,
        rinse,
        scrap,
        paper: paper.to_string(),
        product: product.to_string(),
    }
}

/// What a round retires and sends away, each but once: fresh batches and full containers, by their
/// pages.
async fn makes_ready(address: &str, front: &Front, now: &str) -> Vec<(String, String)> {
    let world = World::system();
    let mut ready = Vec::new();
    for _ in 0..SENT / 10 {
        let made = async |path: &str, fields: &[(&str, &str)]| {
            let form_id = world.mint::<FormId>().to_string();
            let all = [fields, &[("form_id", form_id.as_str())]].concat();
            let answer = post(address, path, &front.cookie, &all).await.expect("an answer");
            assert_eq!(answer.status, StatusCode::SEE_OTHER, "{path}: {}", answer.body);
            answer.location
        };
        let mix = [
            ("product", front.product.as_str()),
            ("parts", "1+4"),
            ("volume", "200"),
            ("happened_at", now),
            ("remark", ""),
            // there is as much on the shelf as it takes, whatever was counted
            ("recount", "yes"),
        ];
        let old = [
            ("contents", "spent fixer"),
            ("capacity", "5 L"),
            ("hazards", "Irritates skin and eyes. Holds silver."),
            ("already", "400"),
            ("since", now),
            ("silver", "0.8"),
            ("low", "0.4"),
            ("high", "1.2"),
        ];
        ready.push((made("/front/chemistry/batches", &mix).await, made("/front/waste/containers", &old).await));
    }
    ready
}

/// Every kind of movement between baths and waste in turn, each told apart by its remark.
fn forms(round: usize, now: &str, front: &Front, ready: &[(String, String)]) -> Vec<Form> {
    let world = World::system();
    let Front { fixer, can, rinse, scrap, paper, .. } = front;
    let into = can.rsplit('/').next().expect("an id");
    (0..SENT)
        .map(|number| {
            let remark = format!("round {round} movement {number:03}");
            let (batch, full) = &ready[number / 10];
            let (path, fields): (String, Vec<(&'static str, &str)>) = match number % 10 {
                0 | 5 => (format!("{fixer}/pour"), vec![("volume", "2"), ("into", into)]),
                1 => (
                    format!("{fixer}/top-up"),
                    vec![("measured", "1200"), ("missing", "evaporated"), ("addition", "fresh"), ("added", "5")],
                ),
                2 => (
                    format!("{can}/reading"),
                    vec![("method", "laboratory"), ("silver", "0.4"), ("low", "0.3"), ("high", "0.5")],
                ),
                3 => (format!("{can}/write-off"), vec![("loss", "spill"), ("volume", "1")]),
                4 => (format!("{rinse}/rinse"), vec![("volume", "30")]),
                6 => (
                    format!("{scrap}/scrap"),
                    vec![("paper", paper), ("processed", "no"), ("size", "5x4in"), ("sheets", "1")],
                ),
                7 => (
                    format!("{batch}/retire"),
                    vec![("measured", "190"), ("missing", "carried off by sheets"), ("into", into), ("version", "1")],
                ),
                8 => (
                    format!("{full}/remove"),
                    vec![
                        ("carrier", "Brackwater Haulage (invented)"),
                        ("destination", "Saltmarsh Silver Works (invented)"),
                        ("reference", "BH-0500"),
                        ("version", "1"),
                        ("to_reclaim_silver", "yes"),
                    ],
                ),
                _ => (format!("{can}/recover"), vec![("silver", "0.0001"), ("means", "steel wool cartridge")]),
            };
            let mut fields: Vec<(&'static str, String)> =
                fields.into_iter().map(|(name, value)| (name, value.to_owned())).collect();
            fields.extend([
                ("form_id", world.mint::<FormId>().to_string()),
                ("happened_at", now.to_owned()),
                ("remark", remark.clone()),
            ]);
            Form { path, fields, remark }
        })
        .collect()
}

async fn send(address: &str, cookie: &str, form: &Form) -> Option<Answer> {
    let fields: Vec<(&str, &str)> = form.fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let answer = post(address, &form.path, cookie, &fields).await?;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}: {}", form.path, answer.body);
    Some(answer)
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
    let front = at_the_front(&demo.database).await;
    let now = now_at_the_lab(&demo.database).await;
    let mut stored = 0;
    // once while many were answered already, once with the first answer
    for (round, mark) in [20, 1].into_iter().enumerate() {
        let server = Server::start(&demo.database, &[]);
        let ready = makes_ready(&server.address, &front, &now).await;
        let all = Arc::new(forms(round, &now, &front, &ready));
        let seat = Arc::new((server.address.clone(), front.cookie.clone()));
        let sends = {
            let all = Arc::clone(&all);
            move |number: usize| {
                let (seat, all) = (Arc::clone(&seat), Arc::clone(&all));
                async move { send(&seat.0, &seat.1, &all[number]).await }
            }
        };
        let acknowledged = power_cut::amid(server, mark, sends).await;
        proves_itself(&demo.database);
        let there = movements(&demo.database).await;
        for number in &acknowledged {
            assert_eq!(there.get(&all[*number].remark), Some(&1), "{} was acknowledged", all[*number].remark);
        }

        let server = Server::start(&demo.database, &[]);
        for form in all.iter() {
            send(&server.address, &front.cookie, form).await.expect("an answer");
        }
        server.stop();
        stored += SENT;
        let there = movements(&demo.database).await;
        assert_eq!((there.len(), there.values().sum()), (stored, stored), "each form made one movement");
        proves_itself(&demo.database);
    }
}
