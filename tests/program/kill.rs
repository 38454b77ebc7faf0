//! The power goes: what was answered for is there, what was not can be sent again.

use std::sync::{
    Arc,
    atomic::{AtomicUsize, Ordering},
};

use hyper::StatusCode;
use shimlight::{clock::World, domain::ids::FormId};
use tokio::{sync::Notify, task::JoinSet};

use crate::{
    lab::{Lab, rule, rule_sources},
    program::{self, PATIENCE, Server, post},
};

const SENT: usize = 100;

struct Sending {
    form_id: String,
    source: String,
}

fn sendings(round: usize) -> Arc<Vec<Sending>> {
    let world = World::system();
    Arc::new(
        (0..SENT)
            .map(|number| Sending {
                form_id: world.mint::<FormId>().to_string(),
                source: format!("round {round} letter {number:03}"),
            })
            .collect(),
    )
}

/// Sends all at the same time; gives which were acknowledged. Tells `enough` after so many.
async fn send_all(
    server: &Server,
    cookie: &str,
    sendings: &Arc<Vec<Sending>>,
    enough: (usize, Arc<Notify>),
) -> JoinSet<Option<usize>> {
    let mut tasks = JoinSet::new();
    let count = Arc::new(AtomicUsize::new(0));
    for number in 0..sendings.len() {
        let (address, cookie, sendings) = (server.address.clone(), cookie.to_owned(), Arc::clone(sendings));
        let (count, (mark, enough)) = (Arc::clone(&count), enough.clone());
        tasks.spawn(async move {
            let Sending { form_id, source } = &sendings[number];
            let answer = post(&address, "/front/site/rules", &cookie, &rule(form_id, source)).await?;
            assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
            if count.fetch_add(1, Ordering::SeqCst) + 1 == mark {
                enough.notify_one();
            }
            Some(number)
        });
    }
    tasks
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn killed_amid_a_hundred_forms_it_has_all_it_answered_for_and_makes_no_doubles() {
    let lab = Lab::new().await;
    let mut stored = 0;
    // a fast machine may answer all before the signal arrives: then it is tried again, sooner
    for (round, mark) in [20, 5, 1, 1, 1].into_iter().enumerate() {
        let sendings = sendings(round);
        let enough = Arc::new(Notify::new());
        let server = Server::start(&lab.database, &[]);
        let tasks = send_all(&server, &lab.cookie, &sendings, (mark, Arc::clone(&enough))).await;
        tokio::time::timeout(PATIENCE, enough.notified()).await.expect("answers arrive");
        server.kill();
        let acknowledged: Vec<usize> = tasks.join_all().await.into_iter().flatten().collect();

        let checked = program::run(&lab.database, &["check"]);
        assert!(checked.status.success(), "{}", program::said(&checked));
        let there = rule_sources(&lab.database).await;
        for number in &acknowledged {
            let source = &sendings[*number].source;
            assert!(there.contains(source), "{source} was acknowledged, then lost");
        }

        // whoever got no answer sends the same form again; whoever got one may do so, too
        let server = Server::start(&lab.database, &[]);
        for sending in sendings.iter() {
            let fields = rule(&sending.form_id, &sending.source);
            let answer = post(&server.address, "/front/site/rules", &lab.cookie, &fields).await.expect("an answer");
            assert_eq!(
                (answer.status, answer.location.as_str()),
                (StatusCode::SEE_OTHER, "/front/site"),
                "{}",
                answer.body
            );
        }
        server.stop();
        stored += SENT;
        let there = rule_sources(&lab.database).await;
        assert_eq!(there.len(), stored, "each form made one record");
        assert!(there.windows(2).all(|pair| pair[0] != pair[1]), "no record twice");
        if acknowledged.len() < SENT {
            return;
        }
    }
    panic!("the server was never killed before it had answered everything");
}
