//! What a student sees on coming back: what to do now, with which numbers, and that it was saved.

use shimlight::{domain::evening::lab_session::SessionState, store};

use super::sheets::{but, sheet_in_the_sun, with_box, with_film, with_hole};
use crate::app::{Answer, Client, TestApp};

fn steps(page: &Answer) -> Vec<String> {
    page.texts("nav.steps li")
}

async fn leads_to(student: &Client) -> String {
    student.get("/bench").await.attribute("main a.go", "href").expect("a way on")
}

#[tokio::test]
async fn the_first_page_leads_from_joining_to_the_hole_in_two_clicks_and_four_fields() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let home = student.get("/bench").await;
    assert_eq!(home.text("h1"), "Measure your camera");
    assert_eq!(home.text("nav.steps li[aria-current=step]"), "Camera now");
    assert_eq!(leads_to(&student).await, "/bench/camera");
    let target = student
        .saves(
            "/bench/camera",
            &[("build", "side-hole can"), ("inside_diameter", "120"), ("width", "170"), ("height", "120")],
        )
        .await;
    assert_eq!(target.text("p.reading .value"), "0.488 mm");

    let home = student.get("/bench").await;
    assert_eq!(home.text("h1"), "Make the hole and measure it");
    assert_eq!(home.texts("p.reading .value"), ["0.488 mm", "0.49 mm"]);
    assert!(
        home.text("p.saved").contains("Last saved at 12:00 on 20 Mar: camera registered"),
        "{}",
        home.text("p.saved")
    );
    assert!(home.text("aside.caution").contains("Never look at the sun"));
    assert_eq!(steps(&home), ["Camera done", "Hole now", "Sheets to come", "Prints to come", "Report to come"]);
    assert!(home.texts("dl.facts dd").contains(&"number 1, side-hole can".to_owned()));
}

#[tokio::test]
async fn with_a_hole_the_next_time_is_shown_and_it_learns_from_the_sheets() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    let home = student.get("/bench").await;
    assert_eq!(home.text("h1"), "Load a sheet and expose it");
    // f/256, EV 15, EI 6: 100 × 256² / (2^15 × 6) = 33.3 s (ISO 2720)
    assert_eq!(home.text("p.reading .value"), "33 s");
    assert!(home.text("p.reading .name").contains("full sun"));

    student.saves("/bench/exposures", &sheet_in_the_sun("33", "")).await;
    let home = student.get("/bench").await;
    assert_eq!(home.text("h1"), "Judge sheet 1");
    assert!(leads_to(&student).await.starts_with("/bench/exposures/"));

    student.saves("/bench/exposures", &sheet_in_the_sun("33", "too pale")).await;
    let judge = student.get(&leads_to(&student).await).await;
    let action = judge.attribute("form[action$=judge]", "action").expect("a form to judge");
    let version = super::sheets::version_of(&judge, "judge");
    student
        .saves(
            &action,
            &[
                ("version", version.as_str()),
                ("verdict", "too pale"),
                ("stops", ""),
                ("stops_by", "eye"),
                ("fault", ""),
                ("developed", "yes"),
                ("developed_at", "2026-03-20T12:00"),
            ],
        )
        .await;
    let home = student.get("/bench").await;
    assert_eq!(home.text("h1"), "Expose another sheet");
    assert!(home.text("p.reading .name").contains("in the light of your last sheet"), "{}", home.text("p.reading"));
    assert!(super::sheets::seconds(&home) > 40.0, "two sheets came out a stop too pale: {}", home.text("p.reading"));
}

#[tokio::test]
async fn a_good_negative_leads_to_the_print_and_then_to_the_report() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await;
    let home = student.get("/bench").await;
    assert_eq!(home.text("h1"), "Make a contact print");
    assert!(home.text("main").contains("Sheet 1 is good to print from"));
    assert_eq!(leads_to(&student).await, "/bench/prints");
}

#[tokio::test]
async fn film_in_a_body_cap_has_no_prints_in_the_trays() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student
        .saves("/bench/camera", &[("build", "body cap"), ("distance", "45.5"), ("width", "36"), ("height", "24")])
        .await;
    assert!(steps(&student.get("/bench").await).contains(&"Prints not for this camera".to_owned()));
    with_hole(&student).await;
    with_film(&app, &student).await;
    student.saves("/bench/exposures", &but(sheet_in_the_sun("5", "right"), &[("developed", "no")])).await;
    let home = student.get("/bench").await;
    assert_eq!(home.text("h1"), "Write your report");
    assert!(home.text("main").contains("What did your second sheet teach you?"), "the session's own task");
}

#[tokio::test]
async fn partners_are_named_and_each_sees_their_own_last_entry() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let partner = app.student(app.the_evening().await.section, "11", "Bram Okafor").await;
    with_box(&student).await;
    partner.saves("/bench/camera/join", &[("number", "1"), ("partner", "07")]).await;
    let home = partner.get("/bench").await;
    assert!(home.texts("dl.facts dd").contains(&"Teodora Vask".to_owned()));
    assert!(home.text("p.saved").contains("camera shared"), "{}", home.text("p.saved"));
    assert!(home.texts("dl.facts dd").contains(&"0.500 mm, f/256".to_owned()));
}

#[tokio::test]
async fn without_an_open_session_the_page_says_so_and_what_can_be_done() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    let session = app.the_evening().await.session;
    let at = app.state.now();
    app.write(move |tx| {
        Box::pin(async move {
            let closed = SessionState::Closed { opened_at: at, closed_at: at };
            store::evening::lab_sessions::update_state(tx, session, closed).await?;
            Ok(String::new())
        })
    })
    .await;
    let home = student.get("/bench").await;
    assert!(home.text("p.empty").contains("No session is open now"));
    assert_eq!(home.text("h1"), "Write your report");
    assert_eq!(leads_to(&student).await, "/bench/report");
}

#[tokio::test]
async fn what_was_saved_long_ago_is_no_answer_to_whether_the_last_entry_was_saved() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    assert!(student.get("/bench/chemistry").await.text("p.saved").contains("hole recorded"));
    // somebody goes on working: fifteen idle minutes would leave the seat, and that they are here is noted
    // beside their request, perhaps only at the next one
    for _ in 0..5 {
        app.state.world.clock.forward_minutes(6);
        student.get("/bench").await;
        student.is_seen_at_work().await;
    }
    for page in ["/bench", "/bench/chemistry", "/bench/report"] {
        let page = student.get(page).await;
        assert_eq!(page.text("p.saved"), "");
        assert!(page.text("p.note").contains("Last saved at 12:00 on 20 Mar: hole recorded"), "{}", page.text("main"));
    }
}

#[tokio::test]
async fn the_units_are_chosen_at_the_foot_of_every_page_said_back_and_lead_the_micrometer() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "120"), ("width", "127"), ("height", "102")]).await;
    let page = student.get("/bench/hole").await;
    assert_eq!(page.text("footer form[action='/bench/units'] button"), "Lengths in inches");
    let back = page.attribute("footer form[action='/bench/units'] [name=back]", "value").expect("a way back");
    let page = student.saves("/bench/units", &[("units", "inch"), ("back", &back)]).await;
    assert!(page.text("p.saved").contains("lengths in inches chosen"), "{}", page.text("main"));
    assert_eq!(page.text("footer form[action='/bench/units'] button"), "Lengths in millimetres");
    // 1.9 × √(0.00055 × 120) = 0.488 mm = 0.0192 in
    assert!(page.text("ol li").contains("19.2 thousandths of an inch (0.49 mm)"), "{}", page.text("ol li"));
    let home = student.get("/bench").await;
    assert_eq!(home.texts("p.reading .value"), ["0.0192 in (0.488 mm)", "19.2 thousandths of an inch"]);
}
