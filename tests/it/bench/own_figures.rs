//! Values a student works out first: held back on pages and cards, open after two tries at the
//! latest, never in the way of the evening's work.

use std::sync::Arc;

use axum::http::StatusCode;
use shimlight::domain::marking::from_record::Source;

use crate::{
    app::{Answer, Client, TestApp},
    bench::sheets::{sheet_in_the_sun, with_box, with_hole},
    marking::give_rubric_of,
};

/// The session asks for these, right within 2 % with two to four figures.
pub async fn asks(app: &Arc<TestApp>, instructor: &Client, slugs: &[&str]) -> Answer {
    let path = format!("/front/sessions/{}/asked", app.the_evening().await.session);
    let page = instructor.get(&path).await;
    let was = page.attribute("[name=was]", "value").expect("a fingerprint");
    let mut fields = vec![("was".to_owned(), was)];
    for slug in slugs {
        for (name, value) in [("ask", "yes"), ("tolerance", "2"), ("least", "2"), ("most", "4")] {
            fields.push((format!("{name}-{slug}"), value.to_owned()));
        }
    }
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    instructor.saves(&path, &fields).await
}

async fn gives(student: &Client, figure: &str, answer: &str, unit: &str) -> Answer {
    let fields = [("figure", figure), ("answer", answer), ("unit", unit), ("working", "by hand")];
    student.post("/bench/own-figures", &fields).await
}

#[tokio::test]
async fn an_angle_has_its_unit_beside_the_box_and_the_page_is_on_the_benchs_ways() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    asks(&app, &instructor, &["angle-of-view"]).await;
    with_box(&student).await;
    let page = student.get("/bench/own-figures").await;
    assert_eq!(page.text("#angle-of-view .unit"), "°");
    assert_eq!(page.text("nav.ways a[aria-current]"), "Own figures");
}

#[tokio::test]
async fn along_a_cans_wall_the_picture_covered_does_not_give_the_angle_away() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    let can = [("build", "side-hole can"), ("inside_diameter", "4 1/8 in"), ("width", "5 in"), ("height", "4 3/4 in")];
    student.saves("/bench/camera", &can).await;
    assert!(student.get("/bench/camera").await.text("main").contains("of the horizon"));
    asks(&app, &instructor, &["angle-of-view"]).await;
    for page in ["/bench/camera", "/bench/hole/optics"] {
        let page = student.get(page).await;
        assert!(!page.text("main").contains("of the horizon"), "{}", page.text("main"));
    }
    // the question has the inches that were typed beside its millimetres
    let asked = student.get("/bench/own-figures").await;
    let words = section(&asked, "angle-of-view");
    assert!(words.contains("127 mm (5.000 in) across") && words.contains("104.775 mm (4.125 in)"), "{words}");
}

fn section(page: &Answer, figure: &str) -> String {
    page.text(&format!("[id={figure}]"))
}

#[tokio::test]
async fn the_target_is_held_back_until_the_student_has_it_right() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    let page = asks(&app, &instructor, &["hole-diameter"]).await;
    assert!(page.attribute("[name=ask-hole-diameter]", "checked").is_some());
    student.saves("/bench/camera", &[("build", "box"), ("distance", "128"), ("width", "127"), ("height", "102")]).await;
    // 1.9 √(550 nm × 128 mm) = 0.504 mm; its f-number would tell it as well
    let as_typed = "/bench/camera/as-typed?build=box&distance=128&width=127&height=102";
    for path in ["/bench", "/bench/camera", "/bench/hole", "/bench/hole/optics", as_typed] {
        let page = student.get(path).await;
        assert!(
            !page.body.contains("0.504") && !page.body.contains("0.50 mm") && !page.body.contains("f/254"),
            "{path}"
        );
        assert!(page.text("body").to_lowercase().contains("to work out"), "{path}: {}", page.text("body"));
    }
    let typed = "build=box&distance=128&width=127&height=102";
    for path in ["/bench/camera/as-typed", "/bench/hole/as-typed"] {
        let page = student.get(&format!("{path}?{typed}&reading_1=0.5&reading_2=0.5&instrument=0.01")).await;
        assert!(!page.body.contains("0.504") && !page.body.contains("f/254"), "{path}: {}", page.body);
    }
    assert!(!student.get("/bench/hole/optics").await.body.contains("0.504"));
    let page = student.get("/bench/own-figures").await;
    let asked = section(&page, "hole-diameter");
    assert!(asked.contains("v = 128 mm") && asked.contains("C = 1.9") && asked.contains("Two tries."), "{asked}");
    assert!(!asked.contains("0.504"));

    let page =
        student.saves("/bench/own-figures", &[("figure", "hole-diameter"), ("answer", "0,50"), ("unit", "mm")]).await;
    let now = section(&page, "hole-diameter");
    assert!(now.contains("right") && now.contains("0.504 mm") && now.contains("-0.8 % of it"), "{now}");
    assert!(student.get("/bench/hole").await.body.contains("0.504"));
    assert!(student.get("/bench").await.text(".held").is_empty());
    let again = gives(&student, "hole-diameter", "0.6", "mm").await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY, "what is open is not answered again");
}

#[tokio::test]
async fn after_two_tries_it_opens_by_itself_with_the_likely_slip() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    asks(&app, &instructor, &["f-number"]).await;
    with_box(&student).await;
    assert!(!student.get("/bench/hole").await.body.contains("f/256"));
    let first = gives(&student, "f-number", "512", "").await;
    assert_eq!(first.status, StatusCode::SEE_OTHER, "{}", first.text("main"));
    let page = student.get("/bench/own-figures").await;
    let now = section(&page, "f-number");
    assert!(
        now.contains("Try 1: 512 not right") && now.contains("radius of the hole where its diameter belongs"),
        "{now}"
    );
    assert!(!now.contains("256") && !now.contains(" % of it"), "the difference would give it away: {now}");
    let typo = gives(&student, "f-number", "many", "").await;
    assert_eq!(typo.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(typo.error_beside("answer"), "must be a number greater than zero, for example 0.48");
    assert_eq!(typo.attribute("[name=answer]", "value").as_deref(), Some("many"), "a typing mistake is no try");
    gives(&student, "f-number", "300", "").await;
    let now = section(&student.get("/bench/own-figures").await, "f-number");
    assert!(now.contains("f/256") && now.contains("+17.2 % of it, where 2 % is near enough"), "{now}");
    assert!(now.contains("by hand"), "the working is kept: {now}");
    assert!(student.get("/bench/hole").await.body.contains("f/256"));
}

#[tokio::test]
async fn the_evening_goes_on_while_a_value_is_held_back() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    asks(&app, &instructor, &["hole-diameter", "f-number", "exposure-time"]).await;
    with_box(&student).await;
    let page = student.get("/bench/exposures?sky=full-sun&sun=front").await;
    assert!(page.texts("p.reading").is_empty() && page.text(".held").contains("Yours to work out."));
    let page = student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await;
    assert!(page.text("h1").contains("Sheet 1"), "recorded all the same: {}", page.text("h1"));
    assert!(!page.texts("dt").contains(&"Forecast".to_owned()));
    // 100 × 256² / (2^15 × 6) = 33.3 s with the hole as measured
    let asked = section(&student.get("/bench/own-figures").await, "exposure-time");
    // the f-number is asked too, so this question does not say it
    assert!(asked.contains("which you work out above") && asked.contains("EV 15"), "{asked}");
    assert!(!asked.contains("33 s"), "{asked}");
}

#[tokio::test]
async fn partners_get_different_numbers_and_a_card_they_share_waits_for_both() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    asks(&app, &instructor, &["hole-diameter"]).await;
    let partner = app.student(app.the_evening().await.section, "08", "Ola Brandt").await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "128"), ("width", "127"), ("height", "102")]).await;
    app.state.world.clock.forward_minutes(1);
    partner.saves("/bench/camera/join", &[("number", "1"), ("partner", "07")]).await;
    let (one, other) = (student.get("/bench/own-figures").await, partner.get("/bench/own-figures").await);
    assert!(section(&one, "hole-diameter").contains("v = 128 mm"));
    assert!(section(&other, "hole-diameter").contains("v = 147 mm"), "{}", section(&other, "hole-diameter"));
    let cards = format!("/front/sessions/{}/cards", app.the_evening().await.session);
    assert!(!instructor.get(&cards).await.body.contains("0.50 mm"));
    gives(&student, "hole-diameter", "0.504", "mm").await;
    assert!(!instructor.get(&cards).await.body.contains("0.50 mm"), "the other has not worked it out");
    // 1.9 √(550 nm × 147 mm) = 0.540 mm
    gives(&partner, "hole-diameter", "0.54", "mm").await;
    assert!(instructor.get(&cards).await.body.contains("0.50 mm"));
}

#[tokio::test]
async fn what_staff_see_is_never_held_back_and_closing_the_session_opens_everything() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    asks(&app, &instructor, &["f-number"]).await;
    with_box(&student).await;
    let session = app.the_evening().await.session;
    let floor = instructor.get(&format!("/front/sessions/{session}/marks/{}", student.student.expect("one"))).await;
    assert!(floor.body.contains("f/256"), "evidence for the marker");
    instructor.saves(&format!("/front/sessions/{session}/close"), &[]).await;
    assert!(student.get("/bench/hole").await.body.contains("f/256"));
    assert!(section(&student.get("/bench/own-figures").await, "f-number").contains("f/256"));
}

#[tokio::test]
async fn film_in_a_body_cap_is_asked_nothing_about_trays_and_is_marked_out_of_less() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    asks(&app, &instructor, &["f-number", "dilution", "silver"]).await;
    let marking = give_rubric_of(&app, &[("Own figures", 3_000, Some(Source::OwnFigures))]).await;
    student
        .saves("/bench/camera", &[("build", "body cap"), ("distance", "45"), ("width", "36"), ("height", "24")])
        .await;
    with_hole(&student).await;
    let page = student.get("/bench/own-figures").await;
    assert_eq!(page.texts("section.sheet").len(), 1, "{}", page.text("main"));
    gives(&student, "f-number", "90", "").await;
    let page = instructor.get(&marking.sheet(student.student.expect("one"))).await;
    assert!(page.text(".says").contains("3: 1 of 1 own figures right within two tries"), "{}", page.text(".says"));
}

#[tokio::test]
async fn two_instructors_do_not_undo_one_another_and_bad_input_is_told_beside_its_field() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let path = format!("/front/sessions/{}/asked", app.the_evening().await.session);
    let was = instructor.get(&path).await.attribute("[name=was]", "value").expect("a fingerprint");
    let wrong = [
        ("was", was.as_str()),
        ("ask-f-number", "yes"),
        ("tolerance-f-number", "80"),
        ("least-f-number", "4"),
        ("most-f-number", "2"),
        ("due", "tomorrow"),
    ];
    let answer = instructor.post(&path, &wrong).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(answer.error_beside("tolerance-f-number"), "must be a number from 0.1 to 50");
    assert_eq!(answer.error_beside("most-f-number"), "must not be fewer than the 4 asked at least");
    assert!(answer.error_beside("due").starts_with("must be a date and time"));
    asks(&app, &instructor, &["silver"]).await;
    let late = instructor.post(&path, &[("was", &was), ("words-1", "What went wrong?")]).await;
    assert_eq!(late.status, StatusCode::CONFLICT);
    assert!(late.text("main").contains("silver within 2 %"), "{}", late.text("main"));
}

/// Every address of the bench that a page names, links and parts alike.
fn named_on(page: &Answer) -> Vec<String> {
    let starts = page.body.match_indices("\"/bench").map(|(at, _)| &page.body[at + 1..]);
    starts
        .filter_map(|rest| rest.split('"').next())
        .map(|path| path.replace("&#38;", "&").replace("&amp;", "&"))
        .collect()
}

#[tokio::test]
async fn no_page_of_the_bench_has_a_number_that_is_held_back() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("41", "right")).await;
    // what each page says while nothing is asked must be there to be found
    let held = ["0.504", "0.0198", "f/254", "f/256", "52.8", "33 s", "33.3", "0.50 mm"];
    let mut told: Vec<&str> = Vec::new();
    let typed = "build=box&distance=128&width=127&height=102";
    let begin = [
        "/bench".to_owned(),
        "/bench/exposures?sky=full-sun&sun=front".to_owned(),
        format!("/bench/camera/as-typed?{typed}"),
        format!("/bench/hole/as-typed?{typed}&reading_1=0.5&reading_2=0.5&instrument=0.01"),
        "/bench/exposures/as-typed?sky=full-sun&sun=front&made=41".to_owned(),
    ];
    let asked = ["hole-diameter", "f-number", "angle-of-view", "exposure-time", "dilution", "silver"];
    for everything_is_held in [false, true] {
        if everything_is_held {
            asks(&app, &instructor, &asked).await;
        }
        let mut waiting = begin.to_vec();
        let mut seen = waiting.clone();
        while let Some(path) = waiting.pop() {
            let page = student.get(&path).await;
            let tells = held.into_iter().filter(|number| page.body.contains(number));
            if everything_is_held {
                let tells: Vec<_> = tells.collect();
                assert!(tells.is_empty(), "{path} tells {tells:?}: {}", page.text("body"));
            } else {
                told.extend(tells);
            }
            for next in named_on(&page) {
                // leaving is no page to look at
                if !seen.contains(&next) && !next.contains("leave") && seen.len() < 400 {
                    seen.push(next.clone());
                    waiting.push(next);
                }
            }
        }
        assert!(seen.len() > 25, "only {} pages were looked at", seen.len());
    }
    for number in held {
        assert!(
            told.contains(&number),
            "no page says {number}, held back or not: this test looks for the wrong number"
        );
    }
}
