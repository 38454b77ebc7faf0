//! Wrong tries are slowed, never locked out.

use std::time::{Duration, Instant};

use shimlight::domain::actor::Role;

use crate::app::TestApp;

#[tokio::test]
async fn a_door_code_tried_often_answers_late_and_another_code_at_once() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    let wrong = [("door_code", "KELP4"), ("roster_number", "07"), ("family_name", "Vask")];
    for _ in 0..5 {
        assert_eq!(app.client().post("/join", &wrong).await.status, 422);
    }
    assert_eq!(app.state.slowdown.delay("code:KELP4", app.state.now()), Duration::from_millis(500));
    let began = Instant::now();
    assert_eq!(app.client().post("/join", &wrong).await.status, 422, "slowed, not locked out");
    assert!(began.elapsed() >= Duration::from_millis(500), "{:?}", began.elapsed());

    assert_eq!(app.state.slowdown.delay("code:QUAY7", app.state.now()), Duration::ZERO);
    let right = [("door_code", "quay7"), ("roster_number", "07"), ("family_name", "Vask")];
    assert_eq!(app.client().post("/join", &right).await.location(), "/bench/key");
}

#[tokio::test]
async fn an_account_and_an_address_have_their_own_slowness_and_a_right_try_ends_it() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    app.staff_with_password(Role::Instructor, "ines", "brass shim and needle").await;
    let (client, now) = (app.client(), app.state.now());
    let joining = [("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")];
    let key = client.saves("/join", &joining).await.text("strong.value");
    for _ in 0..5 {
        app.client().post("/staff", &[("sign_in_name", "INES"), ("password", "guess")]).await;
        app.client().post("/seat", &[("seat_key", "mango lamp river otter")]).await;
    }
    for tries in ["account:ines", "seat:unknown"] {
        assert_eq!(app.state.slowdown.delay(tries, now), Duration::from_millis(500), "{tries}");
    }
    app.client().post("/staff", &[("sign_in_name", "ines"), ("password", "brass shim and needle")]).await;
    app.client().post("/seat", &[("seat_key", &key)]).await;
    for tries in ["account:ines", "seat:unknown"] {
        assert_eq!(app.state.slowdown.delay(tries, now), Duration::ZERO, "{tries}");
    }
}

#[tokio::test]
async fn a_mistyped_form_is_no_guess() {
    let app = TestApp::new().await;
    for _ in 0..8 {
        app.client().post("/seat", &[("seat_key", "mango lamp")]).await;
        app.client().post("/staff", &[("sign_in_name", "ines"), ("password", "")]).await;
    }
    for tries in ["account:ines", "seat:unknown"] {
        assert_eq!(app.state.slowdown.delay(tries, app.state.now()), Duration::ZERO, "{tries}");
    }
}
