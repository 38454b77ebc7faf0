//! The power goes: what was answered for is there, what was not can be sent again.

use std::{collections::BTreeMap, path::Path, sync::Arc};

use hyper::StatusCode;
use shimlight::{
    clock::World,
    domain::ids::FormId,
    store::{Store, evening::lab_sessions, exposure::exposures, people::sections},
};

use crate::{
    lab::{Demo, now_at_the_lab, student_at_the_bench},
    power_cut,
    program::{self, Answer, Server, post},
};

const SENT: usize = 100;
const PAGE: &str = "/bench/exposures";

struct Sending {
    form_id: String,
    remark: String,
}

/// The forms of a round, each told apart by its remark.
fn sendings(round: usize) -> Arc<Vec<Sending>> {
    let world = World::system();
    Arc::new(
        (0..SENT)
            .map(|number| Sending {
                form_id: world.mint::<FormId>().to_string(),
                remark: format!("round {round} sheet {number:03}"),
            })
            .collect(),
    )
}

/// A sheet that went through the trays: it books silver in the same write.
async fn send(address: &str, cookie: &str, now: &str, sending: &Sending) -> Option<Answer> {
    let fields = [
        ("form_id", sending.form_id.as_str()),
        ("made", "8"),
        ("made_at", now),
        ("sheet", "12x9cm"),
        ("reading", "EV 15"),
        ("developed", "1"),
        ("developed_at", now),
        ("remark", &sending.remark),
    ];
    let answer = post(address, PAGE, cookie, &fields).await?;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
    Some(answer)
}

/// How many sheets there are of each remark.
async fn sheets(database: &Path) -> BTreeMap<String, usize> {
    let store = Store::open(database).await.expect("a sound database");
    let mut conn = store.read().await.expect("a reader");
    let section = sections::list(&mut conn).await.expect("sections").remove(0);
    let mut counts = BTreeMap::new();
    for session in lab_sessions::list(&mut conn, section.id).await.expect("sessions") {
        for exposure in exposures::list_of_session(&mut conn, session.id).await.expect("sheets") {
            if exposure.remark.starts_with("round") {
                *counts.entry(exposure.remark).or_default() += 1;
            }
        }
    }
    drop(conn);
    store.close().await;
    counts
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn killed_amid_a_hundred_sheets_it_has_all_it_answered_for_and_makes_no_doubles() {
    let demo = Demo::new();
    let cookie = student_at_the_bench(&demo.database, "02").await;
    let now = now_at_the_lab(&demo.database).await;
    let mut stored = 0;
    // once while many were answered already, once with the first answer
    for (round, mark) in [20, 1].into_iter().enumerate() {
        let sendings = sendings(round);
        let server = Server::start(&demo.database, &[]);
        let seat = Arc::new((server.address.clone(), cookie.clone(), now.clone()));
        let sends = {
            let sendings = Arc::clone(&sendings);
            move |number: usize| {
                let (seat, sendings) = (Arc::clone(&seat), Arc::clone(&sendings));
                async move { send(&seat.0, &seat.1, &seat.2, &sendings[number]).await }
            }
        };
        let acknowledged = power_cut::amid(server, mark, sends).await;

        let checked = program::run(&demo.database, &["check"]);
        assert!(checked.status.success(), "{}", program::said(&checked));
        let there = sheets(&demo.database).await;
        for number in &acknowledged {
            let remark = &sendings[*number].remark;
            assert_eq!(there.get(remark), Some(&1), "{remark} was acknowledged");
        }

        // whoever got no answer sends the same form again; whoever got one may do so, too
        let server = Server::start(&demo.database, &[]);
        for sending in sendings.iter() {
            let answer = send(&server.address, &cookie, &now, sending).await.expect("an answer");
            assert!(answer.location.starts_with("/bench/exposures/"), "{}", answer.location);
        }
        server.stop();
        stored += SENT;
        let there = sheets(&demo.database).await;
        assert_eq!((there.len(), there.values().sum()), (stored, stored), "each form made one sheet");
        let checked = program::run(&demo.database, &["check"]);
        assert!(checked.status.success(), "{}", program::said(&checked));
    }
}
