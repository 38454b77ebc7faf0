//! Where a sheet is, calling for help, and what all benches are told: at the bench, on the floor and
//! on the bare floor.

use std::sync::Arc;

use super::sheets::{id_of, sheet_in_the_sun, with_box, with_hole};
use crate::app::{Answer, Client, TestApp};

async fn evening() -> (Arc<TestApp>, Client, Client, String) {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let session = format!("/front/sessions/{}", app.the_evening().await.session);
    (app, instructor, student, session)
}

/// The way of the form whose button says this.
fn form_of(page: &Answer, action_begins: &str) -> String {
    page.attribute(&format!("form[action^=\"{action_begins}\"]"), "action").expect("such a form")
}

fn buttons(page: &Answer) -> Vec<String> {
    page.texts("[data-part=evening] button, [data-part=evening] a.go")
}

/// What the page says to do now: its heading, and its one main button.
fn now(page: &Answer) -> (String, String) {
    let main =
        page.texts("[data-part=now] .actions form:first-child button, [data-part=now] .actions a.go:first-child");
    assert_eq!(main.len(), 1, "{main:?}");
    (page.text("h1"), main[0].clone())
}

fn says(heading: &str, button: &str) -> (String, String) {
    (heading.to_owned(), button.to_owned())
}

/// So many can stand at the session's tray line.
async fn with_places(app: &TestApp, places: i64) {
    app.write(move |tx| {
        Box::pin(async move {
            sqlx::query("UPDATE tray_line SET places = ?").bind(places).execute(tx).await.expect("a tray line");
            Ok(String::new())
        })
    })
    .await;
}

#[tokio::test]
async fn a_sheet_goes_from_the_loading_to_the_trays_and_its_judging_ends_its_way() {
    let (app, instructor, student, session) = evening().await;
    let floor = format!("{session}/floor");
    let on_its_way = |page: &Answer| page.texts("table.lines tbody tr td:nth-of-type(3)")[0].clone();
    with_box(&student).await;
    assert_eq!(now(&student.get("/bench").await), says("Load a sheet and expose it", "Load a sheet"));
    let page = student.saves("/bench/ways", &[]).await;
    assert!(page.text("#evening-title + p").contains("loading, just now"), "{}", page.text("main"));
    assert_eq!(now(&page), says("Load the sheet, then go outside", "Loaded: we go outside"));
    assert_eq!(page.text("nav.steps li[aria-current=step]"), "Sheets now: loading");
    assert_eq!(buttons(&page)[..1], ["Give this sheet up"], "the main button stands once");
    assert_eq!(on_its_way(&instructor.get(&floor).await), "loading, just now");

    let way = form_of(&page, "/bench/ways/");
    let page = student.saves(&way, &[("to", "outside")]).await;
    assert_eq!(now(&page), says("Open the shutter", "Shutter clock"));
    assert_eq!(page.texts("[data-part=now] .reading .value")[0], "33 s");
    assert_eq!(buttons(&page)[..2], ["Back: we wait for a place", "Into the dark room, to the trays"]);
    app.state.world.clock.forward_minutes(3);
    assert_eq!(on_its_way(&instructor.get(&floor).await), "outside, 3 min");
    let sheet = id_of(&student.saves("/bench/exposures", &sheet_in_the_sun("33", "")).await);
    let page = student.get("/bench").await;
    assert_eq!(now(&page), says("Bring the camera back, shutter shut", "Back: we wait for a place"));
    let page = student.saves(&way, &[("to", "waiting for a place")]).await;
    assert!(page.text("#evening-title + p").contains("waiting for a place"));
    assert_eq!(page.text("nav.steps li[aria-current=step]"), "Sheets now: waiting for a place");
    // six places in the dark room, nobody in it
    assert_eq!(now(&page), says("Go in: there is a place for you", "Into the dark room, to the trays"));
    let page = student.saves(&way, &[("to", "in the trays")]).await;
    assert_eq!(now(&page), says("Mind the time in each tray", "Say how it came out"));
    let judge = page.attribute("[data-part=now] a.go", "href").expect("a way on");
    assert_eq!(judge, format!("/bench/exposures/{sheet}#judge"));
    // while it lies in the trays the camera can be loaded again
    assert!(page.texts("[data-part=now] button").contains(&"Load another sheet".to_owned()));
    // an old page sends it back: nothing happens
    student.saves(&way, &[("to", "outside")]).await;
    assert_eq!(on_its_way(&instructor.get(&floor).await), "in the trays, just now");

    let how =
        [("version", "1"), ("verdict", "a little pale"), ("developed", "yes"), ("developed_at", "2026-03-20T12:03")];
    student.saves(&format!("/bench/exposures/{sheet}/judge"), &how).await;
    assert_eq!(on_its_way(&instructor.get(&floor).await), "");
    assert!(!student.get("/bench").await.body.contains("/bench/ways/"));
}

#[tokio::test]
async fn a_newer_sheet_outside_comes_before_one_that_lies_in_the_trays() {
    let (app, _instructor, student, _session) = evening().await;
    with_box(&student).await;
    let first = form_of(&student.saves("/bench/ways", &[]).await, "/bench/ways/");
    student.saves(&first, &[("to", "in the trays")]).await;
    app.state.world.clock.forward_minutes(1);
    let page = student.saves("/bench/ways", &[]).await;
    assert_eq!(now(&page).0, "Load the sheet, then go outside");
    // the other one still has its own way on
    assert!(buttons(&page).contains(&"Write down how it came out".to_owned()), "{:?}", buttons(&page));
    // a partner moves it: the parts of the page follow without being loaded anew
    let second = form_of(&page, "/bench/ways/");
    assert_ne!(first, second);
    student.saves(&second, &[("to", "outside")]).await;
    let part = student.get("/bench/parts/now").await;
    assert_eq!(part.text("h1"), "Open the shutter");
    assert!(!part.body.contains("<html"));
    assert!(student.get("/bench/parts/steps").await.body.contains("now: outside"));
}

#[tokio::test]
async fn a_camera_holds_one_sheet_and_a_hole_comes_first() {
    let (_app, _instructor, student, _session) = evening().await;
    let refused = student.post("/bench/ways", &[]).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text("main").contains("register your camera first"), "{}", refused.text("main"));
    with_box(&student).await;
    student.saves("/bench/ways", &[]).await;
    let refused = student.post("/bench/ways", &[]).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text("main").contains("has a sheet in it already"));
    // the same click twice is one sheet
    let page = student.get("/bench").await;
    let way = form_of(&page, "/bench/ways/");
    let id = page.attribute("input[name=form_id]", "value").expect("a form id");
    assert_eq!(student.post_as(&way, &id, &[("to", "given up")]).await.status, 303);
    assert_eq!(student.post_as(&way, &id, &[("to", "given up")]).await.status, 303);
    assert!(!student.get("/bench").await.body.contains("/bench/ways/"));
}

#[tokio::test]
async fn who_waits_longest_is_called_in_when_a_place_is_free() {
    let (app, instructor, first, session) = evening().await;
    with_places(&app, 1).await;
    let section = app.the_evening().await.section;
    let second = app.student(section, "08", "Anselm Quarry").await;
    let third = app.student(section, "09", "Ottilie Marsh").await;
    let mut ways = Vec::new();
    for student in [&first, &second, &third] {
        with_box(student).await;
        let page = student.saves("/bench/ways", &[]).await;
        ways.push(form_of(&page, "/bench/ways/"));
        student.saves(&ways[ways.len() - 1], &[("to", "outside")]).await;
        app.state.world.clock.forward_minutes(2);
    }
    first.saves(&ways[0], &[("to", "in the trays")]).await;
    app.state.world.clock.forward_minutes(1);
    third.saves(&ways[2], &[("to", "waiting for a place")]).await;
    app.state.world.clock.forward_minutes(1);
    let page = second.saves(&ways[1], &[("to", "waiting for a place")]).await;
    assert!(page.text("#evening-title + p").contains("You are number 2 in the row."));
    assert!(third.get("/bench").await.text("#evening-title + p").contains("You are next."));
    assert_eq!(now(&page), says("Wait for a place in the dark room", "Write down the exposure"));

    let floor = instructor.get(&format!("{session}/floor")).await;
    assert_eq!(floor.text("[data-part=room] p"), "1 of 1 places taken");
    let bare = instructor.get(&format!("{session}/bare-floor")).await;
    assert_eq!(bare.texts("ol.next li"), ["Camera 3", "Camera 2"]);
    assert!(
        !bare.text("main").contains("Anselm") && !bare.text("main").contains("Teodora"),
        "no names on the bare floor"
    );
    // whoever keeps the door sends the first one out
    let came_out = form_of(&floor, &format!("{session}/floor/ways/"));
    instructor.saves(&came_out, &[("to", "ended")]).await;
    let called = third.get("/bench").await;
    assert!(called.text("#evening-title + p").contains("There is a place for you now."));
    assert_eq!(now(&called), says("Go in: there is a place for you", "Into the dark room, to the trays"));
    let bare = instructor.get(&format!("{session}/bare-floor")).await;
    assert_eq!(bare.texts("ol.next li"), ["Camera 3 come in", "Camera 2"]);
}

#[tokio::test]
async fn a_call_for_help_stands_on_the_floor_until_somebody_went() {
    let (_app, instructor, student, session) = evening().await;
    let floor = format!("{session}/floor");
    let endless = "x".repeat(81);
    let refused = student.post("/bench/call", &[("why", &endless)]).await;
    assert_eq!(refused.status, 422);
    assert!(refused.error_beside("why").contains("at most 80"), "{}", refused.error_beside("why"));
    // nobody has to type before they may ask
    assert!(student.saves("/bench/call", &[("why", " ")]).await.text("#call-title + p").contains("come, please"));
    assert!(instructor.get(&floor).await.text("tr.calls th").contains("asks for help: come, please"));
    let page = student.saves("/bench/call", &[("why", "needle stuck")]).await;
    assert!(page.text("#call-title + p").contains("needle stuck"));
    let board = instructor.get(&floor).await;
    assert!(board.text("tr.calls th").contains("asks for help: needle stuck, just now"), "{}", board.text("table"));
    let went = form_of(&board, &format!("{floor}/calls/"));
    assert!(!instructor.saves(&went, &[]).await.text("table").contains("needle stuck"));
    assert!(student.get("/bench").await.body.contains("name=\"why\""));
    // taken back by the student
    student.saves("/bench/call", &[("why", "lamp flickers")]).await;
    student.saves("/bench/call/end", &[]).await;
    assert!(!instructor.get(&floor).await.text("table").contains("lamp flickers"));
}

#[tokio::test]
async fn what_is_said_to_all_benches_stands_on_every_bench_page_until_taken_down() {
    let (app, instructor, student, session) = evening().await;
    let say = format!("{session}/floor/say");
    let refused = instructor.post(&say, &[("words", "")]).await;
    assert_eq!((refused.status.as_u16(), refused.error_beside("words")), (422, "must not be empty".to_owned()));
    instructor.saves(&say, &[("words", "Lights on in two minutes")]).await;
    for page in ["/bench", "/bench/camera", "/bench/hole", "/bench/report"] {
        assert_eq!(student.get(page).await.text("p.told"), "Lights on in two minutes", "{page}");
    }
    let other = app.other_section("REED42").await;
    let elsewhere = app.student(other, "01", "Piet Arden").await;
    assert_eq!(elsewhere.get("/bench").await.text("p.told"), "", "another section is not told");
    instructor.saves(&format!("{session}/floor/unsay"), &[]).await;
    assert_eq!(student.get("/bench").await.text("p.told"), "");
}

#[tokio::test]
async fn the_floor_is_told_what_changed_after_it_was_saved_and_asks_for_that_part() {
    let (_app, instructor, student, session) = evening().await;
    let floor = format!("{session}/floor");
    let mut stream = instructor.listens(&format!("{floor}/changes?by-itself")).await;
    assert!(stream.headers.get("content-encoding").is_none());
    assert_eq!(stream.next().await.as_deref(), Some("lines room baths told"), "all of it at first");
    student.saves("/bench/call", &[("why", "needle stuck")]).await;
    assert_eq!(stream.next().await.as_deref(), Some("lines"));
    let part = instructor.get(&format!("{floor}/parts/lines?by-itself")).await;
    assert!(part.body.contains("needle stuck") && !part.body.contains("<html"));
    with_box(&student).await;
    student.saves("/bench/ways", &[]).await;
    let mut told = Vec::new();
    while !told.iter().any(|parts: &String| parts.contains("room")) {
        told.push(stream.next().await.expect("the stream goes on"));
    }
    assert!(told.iter().all(|parts| parts.contains("lines")), "{told:?}");
    // what is refused changed nothing: the next event is that of the next change
    student.post("/bench/call", &[("why", &"x".repeat(81))]).await;
    instructor.saves(&format!("{floor}/say"), &[("words", "Wash up")]).await;
    let next = stream.next().await.expect("the stream goes on");
    assert!(next.contains("told"), "{next}");
}

#[tokio::test]
async fn a_stream_ends_with_its_sign_in_and_with_the_server() {
    let (app, instructor, student, session) = evening().await;
    let mut at_the_bench = student.listens("/bench/changes?by-itself").await;
    assert_eq!(at_the_bench.next().await.as_deref(), Some("told now evening steps"));
    assert_eq!(student.post("/leave", &[]).await.status, 303);
    assert_eq!(at_the_bench.next().await, None, "a left bench is told nothing more");

    let mut at_the_front = instructor.listens(&format!("{session}/floor/changes?by-itself")).await;
    at_the_front.next().await;
    app.state.closing.send_replace(true);
    assert_eq!(at_the_front.next().await, None);
}

#[tokio::test]
async fn when_the_session_closes_nobody_is_on_the_way_calls_or_is_told_anything() {
    let (_app, instructor, student, session) = evening().await;
    with_box(&student).await;
    student.saves("/bench/ways", &[]).await;
    student.saves("/bench/call", &[("why", "needle stuck")]).await;
    instructor.saves(&format!("{session}/floor/say"), &[("words", "Wash up")]).await;
    instructor.saves(&format!("{session}/close"), &[]).await;
    let floor = instructor.get(&format!("{session}/floor")).await;
    assert!(!floor.text("main").contains("loading") && !floor.text("main").contains("needle stuck"));
    let home = student.get("/bench").await;
    assert!(home.text("p.told").is_empty() && !home.body.contains("/bench/call"));
    assert_eq!(student.post("/bench/call", &[("why", "too late")]).await.status, 422);
}

#[tokio::test]
async fn another_students_sheet_is_not_there() {
    let (app, _instructor, student, _session) = evening().await;
    with_box(&student).await;
    with_hole(&student).await;
    let way = form_of(&student.saves("/bench/ways", &[]).await, "/bench/ways/");
    let other = app.student(app.the_evening().await.section, "08", "Anselm Quarry").await;
    assert_eq!(other.post(&way, &[("to", "given up")]).await.status, 404);
}
