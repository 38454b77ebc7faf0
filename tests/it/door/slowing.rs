//! Wrong tries are slowed, never locked out; and nobody is slowed by a stranger.

use std::sync::Arc;

use shimlight::domain::people::actor::Role;
use tokio::sync::Barrier;

use crate::app::{Answer, Client, TestApp};

/// Many at once: each waits until all are ready.
async fn at_once(clients: Vec<Client>, path: &'static str, fields: &[(&str, &str)]) -> Vec<Answer> {
    let barrier = Arc::new(Barrier::new(clients.len()));
    let fields: Vec<(String, String)> = fields.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect();
    let tries: Vec<_> = clients
        .into_iter()
        .map(|client| {
            let (barrier, fields) = (Arc::clone(&barrier), fields.clone());
            tokio::spawn(async move {
                let fields: Vec<(&str, &str)> = fields.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
                barrier.wait().await;
                client.post(path, &fields).await
            })
        })
        .collect();
    let mut answers = Vec::new();
    for one in tries {
        answers.push(one.await.expect("a try"));
    }
    answers
}

fn count(answers: &[Answer], status: u16) -> usize {
    answers.iter().filter(|answer| answer.status == status).count()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn forty_tries_at_once_for_one_account_are_no_more_than_forty_in_a_row() {
    let app = TestApp::new().await;
    app.staff_with_password(Role::Instructor, "ines", "brass shim and needle").await;
    let clients = (0..40).map(|_| app.client()).collect();
    let answers = at_once(clients, "/staff", &[("sign_in_name", "INES"), ("password", "guess")]).await;
    assert_eq!(count(&answers, 422), 5, "the free tries, and the one after which waiting begins");
    assert_eq!(count(&answers, 429), 35);
    let told = answers.iter().find(|answer| answer.status == 429).expect("one");
    assert!(told.headers.contains_key("retry-after"), "it says how long");
    assert!(told.text("main").contains("second"), "{}", told.text("main"));
    assert_eq!(told.attribute("[name=sign_in_name]", "value").as_deref(), Some("INES"), "what was typed is kept");
}

#[tokio::test]
async fn ones_own_success_takes_only_its_own_try_away() {
    let app = TestApp::new().await;
    app.staff_with_password(Role::Instructor, "ines", "brass shim and needle").await;
    let (wrong, right) = (
        [("sign_in_name", "ines"), ("password", "guess")],
        [("sign_in_name", "ines"), ("password", "brass shim and needle")],
    );
    let mut statuses = Vec::new();
    for _ in 0..3 {
        statuses.push(app.client().post("/staff", &right).await.status.as_u16());
        for _ in 0..2 {
            statuses.push(app.client().post("/staff", &wrong).await.status.as_u16());
        }
    }
    assert_eq!(statuses, [303, 422, 422, 303, 422, 422, 303, 422, 429]);
}

#[tokio::test]
async fn waiting_grows_with_the_clock_and_is_forgotten_with_it() {
    let app = TestApp::new().await;
    app.staff_with_password(Role::Instructor, "ines", "brass shim and needle").await;
    let wrong = [("sign_in_name", "ines"), ("password", "guess")];
    for _ in 0..5 {
        assert_eq!(app.client().post("/staff", &wrong).await.status, 422);
    }
    assert_eq!(app.client().post("/staff", &wrong).await.status, 429, "slowed, not locked out");
    app.state.world.clock.forward_minutes(1);
    let right = [("sign_in_name", "ines"), ("password", "brass shim and needle")];
    assert_eq!(app.client().post("/staff", &right).await.location(), "/front");
}

#[tokio::test]
async fn a_browser_in_which_somebody_signed_in_before_does_not_wait_for_a_strangers_guesses() {
    let app = TestApp::new().await;
    app.staff_with_password(Role::Instructor, "ines", "brass shim and needle").await;
    let right = [("sign_in_name", "ines"), ("password", "brass shim and needle")];
    let own = app.client();
    assert_eq!(own.post("/staff", &right).await.location(), "/front");
    own.post("/leave", &[]).await;
    for _ in 0..40 {
        app.client().post("/staff", &[("sign_in_name", "ines"), ("password", "guess")]).await;
    }
    assert_eq!(app.client().post("/staff", &right).await.status, 429, "another browser waits");
    assert_eq!(own.post("/staff", &right).await.location(), "/front");
    // and what that browser holds opens nothing of anybody else's, nor says whose it is
    app.staff_with_password(Role::Assistant, "pat", "needle and brass shim").await;
    for _ in 0..40 {
        app.client().post("/staff", &[("sign_in_name", "pat"), ("password", "guess")]).await;
    }
    own.post("/leave", &[]).await;
    let other = [("sign_in_name", "pat"), ("password", "needle and brass shim")];
    assert_eq!(own.post("/staff", &other).await.status, 429);
}

#[tokio::test]
async fn a_right_seat_key_is_let_in_whoever_guesses_from_the_same_address() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    let joining = [("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")];
    let key = app.client().saves("/door", &joining).await.text("strong.value");
    let mut last = 0;
    for _ in 0..30 {
        last = app.client().post("/seat", &[("seat_key", "mango lamp river otter")]).await.status.as_u16();
    }
    assert_eq!(last, 429, "the guesser is told to wait");
    assert_eq!(app.client().post("/seat", &[("seat_key", &key)]).await.location(), "/bench");
}

#[tokio::test]
async fn a_mistyped_form_is_no_guess() {
    let app = TestApp::new().await;
    for _ in 0..40 {
        assert_eq!(app.client().post("/seat", &[("seat_key", "mango lamp")]).await.status, 422);
        assert_eq!(app.client().post("/staff", &[("sign_in_name", "ines"), ("password", "")]).await.status, 422);
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn guessed_door_codes_are_counted_together_whatever_the_code() {
    let app = TestApp::new().await;
    app.evening().await;
    let mut statuses = Vec::new();
    for number in 0..60 {
        let code = format!("KELP{number}");
        let fields = [("door_code", code.as_str()), ("roster_number", ""), ("full_name", "Nobody")];
        statuses.push(app.client().post("/door", &fields).await.status.as_u16());
    }
    assert!(statuses[..20].iter().all(|status| *status == 422), "a class mistypes: {statuses:?}");
    assert!(statuses[30..].iter().all(|status| *status == 429), "{statuses:?}");
    // many at once get no further
    let clients = (0..40).map(|_| app.client()).collect();
    let answers =
        at_once(clients, "/door", &[("door_code", "KELP99"), ("roster_number", "1"), ("family_name", "X")]).await;
    assert_eq!(count(&answers, 429), 40);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_whole_class_joins_at_once_from_one_address() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    for number in 0..40 {
        app.on_roster(evening.section, &format!("{number:02}"), "Teodora Vask").await;
    }
    let barrier = Arc::new(Barrier::new(40));
    let joining: Vec<_> = (0..40)
        .map(|number| {
            let (client, barrier) = (app.client(), Arc::clone(&barrier));
            tokio::spawn(async move {
                barrier.wait().await;
                let number = format!("{number:02}");
                let fields = [("door_code", "quay7"), ("roster_number", number.as_str()), ("family_name", "Vask")];
                client.post("/door", &fields).await.location()
            })
        })
        .collect();
    for one in joining {
        assert_eq!(one.await.expect("a try"), "/bench/key");
    }
}

#[tokio::test]
async fn walk_ins_are_capped_and_the_front_bench_is_told_how_many_there_are() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    app.write(move |tx| {
        Box::pin(async move {
            sqlx::query("UPDATE section SET walk_ins = 1 WHERE id = ?").bind(evening.section).execute(tx).await?;
            Ok(String::new())
        })
    })
    .await;
    let walks_in =
        async |name: String| app.client().post("/door", &[("door_code", "QUAY7"), ("full_name", &name)]).await;
    for number in 0..9 {
        assert_eq!(walks_in(format!("Visitor {number}")).await.status, 303);
    }
    app.state.world.clock.forward_minutes(5);
    for number in 9..12 {
        assert_eq!(walks_in(format!("Visitor {number}")).await.status, 303);
    }
    let floor = instructor.get(&format!("/front/sessions/{}/floor", evening.session)).await.text("main");
    assert!(floor.contains("12 walk-ins came in, 3 of them in the last minute"), "{floor}");
    let front = instructor.get("/front").await.text("main");
    assert!(front.contains("12 walk-ins came in, 3 of them in the last minute"), "{front}");
    for number in 12..60 {
        assert_eq!(walks_in(format!("Visitor {number}")).await.status, 303, "{number}");
    }
    let refused = walks_in("One more".to_owned()).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text("main").contains("ask the front bench"), "{}", refused.text("main"));
}
