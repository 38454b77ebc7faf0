//! Slow work has places of its own: while they are taken it says so, and everything else goes on.

use std::sync::{
    Arc,
    atomic::{AtomicUsize, Ordering},
};

use axum::{
    body::Body,
    http::{Request, header},
};
use futures_util::FutureExt;
use shimlight::web::kit::slow_work::SlowWork;

use super::fields::Counted;
use crate::{
    app::TestApp,
    bench::{
        pictures::{a_jpeg, add_picture},
        sheets::with_box,
    },
};

/// Takes every place of some work and fills its line, while `meanwhile` is done.
async fn while_full<F: Future<Output = ()>>(work: &Arc<SlowWork>, meanwhile: F) {
    let people: Vec<String> = (0..500).map(|number| format!("somebody {number}")).collect();
    let (mut held, mut line) = (Vec::new(), Vec::new());
    for person in &people {
        let mut turn = Box::pin(work.turn(person));
        match (&mut turn).now_or_never() {
            Some(Ok(turn)) => held.push(turn),
            Some(Err(_)) => break,
            None => line.push(turn),
        }
    }
    assert!(!held.is_empty() && !line.is_empty() && line.len() < people.len() - 10, "the line has an end");
    meanwhile.await;
}

#[tokio::test]
async fn while_the_optics_are_busy_they_say_so_and_every_other_page_is_answered() {
    let (app, anon, instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    let page = student.get("/bench/hole/optics").await;
    assert_eq!(page.status, 200);
    let picture = page.attribute(".seen figure img", "src").expect("a picture");
    let floor = format!("/front/sessions/{}/floor", app.the_evening().await.session);
    while_full(&app.state.optics, async {
        for path in ["/bench/hole/optics", picture.as_str()] {
            let busy = student.get(path).await;
            assert_eq!(busy.status, 503, "{path}");
            assert_eq!(busy.text("h1"), "Busy for a moment");
            assert!(busy.headers.contains_key(header::RETRY_AFTER));
        }
        for path in ["/bench", "/bench/camera", "/bench/hole", "/bench/exposures"] {
            assert_eq!(student.get(path).await.status, 200, "{path}");
        }
        for path in ["/front", floor.as_str(), "/front/chemistry"] {
            assert_eq!(instructor.get(path).await.status, 200, "{path}");
        }
        assert_eq!(anon.get("/").await.status, 200);
        assert_eq!(anon.get("/health").await.status, 200);
    })
    .await;
    assert_eq!(student.get("/bench/hole/optics").await.status, 200, "and when it is done all is as before");
}

#[tokio::test]
async fn while_pictures_are_busy_no_byte_of_another_is_read() {
    let (app, _, _, student) = TestApp::with_open_session().await;
    let session = app.the_evening().await.session.to_string();
    let taken = Arc::new(AtomicUsize::new(0));
    while_full(&app.state.uploads, async {
        let body = Body::from_stream(Counted { begins: None, left: 8 * 1024 * 1024, taken: Arc::clone(&taken) });
        let request = Request::post(format!("/bench/report/{session}/pictures"))
            .header(header::CONTENT_TYPE, "multipart/form-data; boundary=part")
            .header(header::HOST, "lab.test")
            .header(header::ORIGIN, "http://lab.test")
            .body(body)
            .expect("a request");
        let busy = student.send(request).await;
        assert_eq!((busy.status.as_u16(), busy.text("h1")), (503, "Busy for a moment".to_owned()));
        assert_eq!(taken.load(Ordering::SeqCst), 0);
        assert_eq!(student.get("/bench").await.status, 200);
    })
    .await;
    assert_eq!(add_picture(&student, &session, &a_jpeg(), "").await.status, 303);
}

#[tokio::test]
async fn while_hashing_is_busy_a_sign_in_is_told_to_come_again_and_nothing_is_counted() {
    let app = TestApp::new().await;
    app.staff_with_password(shimlight::domain::people::actor::Role::Instructor, "ines", "brass shim and needle").await;
    let right = [("sign_in_name", "ines"), ("password", "brass shim and needle")];
    while_full(&app.state.hashing, async {
        for _ in 0..10 {
            assert_eq!(app.client().post("/staff", &right).await.status, 503);
        }
    })
    .await;
    assert_eq!(app.client().post("/staff", &right).await.location(), "/front");
}
