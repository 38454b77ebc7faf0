//! A disk that takes no more: nothing half-written, nothing typed lost, and it goes on afterwards.

use axum::http::StatusCode;
use shimlight::store::{Disk, site::site_rules};

use crate::app::{Client, TestApp};

/// Enters removal rules until one does not fit; gives how many did and the last answer.
async fn until_refused(instructor: &Client) -> (usize, crate::app::Answer) {
    let source = "letter of the safety office ".repeat(7);
    for count in 0..2_000 {
        let fields = [("clock", "full"), ("span", "3"), ("unit", "days"), ("source", source.trim())];
        let answer = instructor.post("/front/site/rules", &fields).await;
        if answer.status != StatusCode::SEE_OTHER {
            return (count, answer);
        }
    }
    panic!("the disk never filled");
}

async fn rules(app: &TestApp) -> usize {
    let mut conn = app.state.store.read().await.expect("a reader");
    site_rules::list(&mut conn).await.expect("rules").len()
}

#[tokio::test]
async fn on_a_full_disk_what_was_typed_comes_back_and_what_was_saved_stays() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    app.state.store.pretend(Disk::Full).await;
    let (saved, refused) = until_refused(&instructor).await;
    assert_eq!(refused.status, StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(refused.text("h1"), "Could not be saved");
    assert!(refused.body.contains("letter of the safety office"), "what was typed is on the page");
    assert_eq!(rules(&app).await, saved, "all or nothing");
    assert_eq!(instructor.get("/front/site").await.status, StatusCode::OK, "pages are still shown");

    app.state.store.pretend(Disk::Sound).await;
    let fields = [("clock", "full"), ("span", "3"), ("unit", "days"), ("source", "once there is room")];
    instructor.saves("/front/site/rules", &fields).await;
    assert_eq!(rules(&app).await, saved + 1);
}

#[tokio::test]
async fn on_a_read_only_file_pages_are_shown_and_forms_come_back() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    app.state.store.pretend(Disk::ReadOnly).await;
    let (saved, refused) = until_refused(&instructor).await;
    assert_eq!((saved, refused.status), (0, StatusCode::SERVICE_UNAVAILABLE));
    assert!(refused.body.contains("letter of the safety office"), "what was typed is on the page");
    assert_eq!(instructor.get("/front/site").await.status, StatusCode::OK, "pages are still shown");
    app.state.store.pretend(Disk::Sound).await;
    let fields = [("clock", "full"), ("span", "3"), ("unit", "days"), ("source", "once it may be written")];
    instructor.saves("/front/site/rules", &fields).await;
    assert_eq!(rules(&app).await, 1);
}

#[tokio::test]
async fn a_seat_that_is_left_on_a_full_disk_is_left() {
    let (app, anon, _instructor, student) = TestApp::with_open_session().await;
    let copied = student.copy();
    assert_eq!(copied.get("/bench").await.status, StatusCode::OK);
    app.state.store.pretend(Disk::ReadOnly).await;
    assert_eq!(student.post("/leave", &[]).await.status, StatusCode::SEE_OTHER);
    let came_back = copied.get("/bench").await;
    assert_eq!((came_back.status, came_back.location().as_str()), (StatusCode::SEE_OTHER, "/?then=%2Fbench"));
    drop(anon);
}
