//! The care of containers: scrap, the first rinse, looks, recovery, one set up by mistake.

use axum::http::StatusCode;
use shimlight::{
    domain::{baths::batch::Slot, book::MovementKind, people::actor::Role, stock::product::ProductKind},
    store,
};

use super::{
    chemistry::{local_now, mixes, nothing_is_wrong, sets_in, sheets_through},
    waste::{retires, sets_up, version},
};
use crate::app::{Client, TestApp};

/// What stands as volume and silver on a container's page.
async fn holds(staff: &Client, can: &str) -> (String, String) {
    let page = staff.get(can).await;
    let values = page.texts("#in-it ~ .reading .value");
    (values[0].clone(), values[1].clone())
}

#[tokio::test]
async fn scrap_holds_its_silver_and_liquids_go_elsewhere() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let bin = sets_up(&instructor, "scrap film and paper", "holds silver").await;
    let (at, paper) = (local_now(&instructor), app.the_evening().await.paper.to_string());
    let sheets = |processed: &'static str, count: &'static str| {
        [
            ("paper", paper.clone()),
            ("processed", processed.to_owned()),
            ("size", "4x5in".to_owned()),
            ("sheets", count.to_owned()),
            ("mass", "120".to_owned()),
            ("happened_at", at.clone()),
        ]
    };
    let fields = sheets("no", "20");
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let page = instructor.saves(&format!("{bin}/scrap"), &fields).await;
    // 20 sheets of 0.012903 m², 0.97 / 0.65 g/m² coated
    assert_eq!(page.texts("#in-it ~ .reading .value")[1], "0.39 g (0.14 to 0.42)");
    assert!(page.texts("#about ~ dl dd").contains(&"20 Mar 2026, 12:00".to_owned()), "its clock began");
    nothing_is_wrong(&app).await;

    // a bath poured over it is refused, and it is not offered
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    let refused = retires(&instructor, &fixer, &bin, "1 L", "").await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text("main").contains("for sheets of film and paper, not for liquids"), "{}", refused.text("main"));
    // scrap into a container for liquids needs a reason
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let refused = instructor.post(&format!("{can}/scrap"), &fields).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);

    // taken back, nothing is left and nothing counts from it
    let back = page.attribute("td a.not-on-paper", "href").expect("a way back");
    instructor.saves(&back, &[("why", "counted twice")]).await;
    assert_eq!(holds(&instructor, &bin).await, ("0 mL".to_owned(), "0 g".to_owned()));
    let page = instructor.get(&bin).await;
    assert!(page.texts("#about ~ dl dd").contains(&"nothing in it yet".to_owned()), "{}", page.text("dl"));
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn the_first_rinse_brings_back_what_sheets_carried_into_the_wash() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    sheets_through(&app, &student, 10, 20).await;
    let can = sets_up(&instructor, "first rinse", "irritant, holds silver").await;
    let at = local_now(&instructor);
    let too_much = [("volume", "2 L"), ("silver", "5"), ("low", "5"), ("high", "5"), ("happened_at", at.as_str())];
    let refused = instructor.post(&format!("{can}/rinse"), &too_much).await;
    assert!(refused.text("main").contains("more than sheets had carried into the wash"), "{}", refused.text("main"));
    let page = instructor.saves(&format!("{can}/rinse"), &[("volume", "2 L"), ("happened_at", &at)]).await;
    let values = page.texts("#in-it ~ .reading .value");
    assert_eq!(values[0], "2000 mL");
    assert!(values[1].starts_with("0.1"), "about 90 mL carried off at up to 2.5 g/L: {values:?}");
    nothing_is_wrong(&app).await;

    // the sheets cannot be taken back while their silver stands in the rinse
    let mut conn = app.state.store.read().await.expect("a reader");
    let entries = store::book::list(&mut conn).await.expect("the book");
    drop(conn);
    let sheet = entries.iter().rfind(|entry| entry.kind == MovementKind::Sheet).expect("booked").movement;
    let refused = instructor.post(&format!("/front/waste/book/{sheet}"), &[("why", "a slip")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text("main").contains("(rinse) back first"), "{}", refused.text("main"));
    let elsewhere = sets_up(&instructor, "developer", "irritant").await;
    let refused = instructor.post(&format!("{elsewhere}/rinse"), &[("volume", "1 L"), ("happened_at", &at)]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn somebody_looks_and_what_is_wrong_is_described() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let custom = [("look_every", "7"), ("look_source", "safety office"), ("version", "0")];
    instructor.saves("/front/site/waste", &custom).await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    retires(&instructor, &fixer, &can, "1 L", "").await;
    let page = instructor.get(&can).await;
    assert!(
        page.text("#by-when ~ p .tag").contains("not yet due")
            || page.text("main").contains("somebody looks at it by 27 Mar 2026"),
        "{}",
        page.text("main")
    );
    let at = local_now(&instructor);
    let refused =
        instructor.post(&format!("{can}/look"), &[("closed", "yes"), ("labelled", "yes"), ("happened_at", &at)]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text("main").contains("what was not as it should be"), "{}", refused.text("main"));
    let wet = [
        ("closed", "yes"),
        ("labelled", "yes"),
        ("happened_at", at.as_str()),
        ("remark", "lid wet; wiped, new gasket"),
    ];
    let page = instructor.saves(&format!("{can}/look"), &wet).await;
    assert!(page.text("#looks ~ ul").contains("closed, labelled, not sound"), "{}", page.text("#looks ~ ul"));

    app.state.world.clock.forward_minutes(60 * 24 * 9);
    let assistant = app.staff(Role::Assistant, "Odo Lind").await;
    let home = assistant.get("/front").await.text("main");
    assert!(home.contains("Waste container 1: nobody looked at it since it was due on 27 Mar 2026"), "{home}");
    let at = local_now(&assistant);
    let good = [("closed", "yes"), ("labelled", "yes"), ("sound", "yes"), ("happened_at", at.as_str())];
    assistant.saves(&format!("{can}/look"), &good).await;
    assert!(!assistant.get("/front").await.text("main").contains("nobody looked at it"));
}

#[tokio::test]
async fn a_recovery_keeps_before_and_after_and_cartridges_are_written_down() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    sheets_through(&app, &student, 10, 10).await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    retires(&instructor, &fixer, &can, "1 L", "").await;
    let at = local_now(&instructor);
    let recovery = [
        ("means", "steel wool cartridge"),
        ("silver", "0.9"),
        ("before", "1.2"),
        ("after", "0.3"),
        ("measured_how", "laboratory report 77"),
        ("cartridge", "number 4"),
        ("happened_at", at.as_str()),
    ];
    instructor.saves(&format!("{can}/recover"), &recovery).await;
    let cartridge = [("cartridge", "number 5"), ("old_went_to", "container 1"), ("happened_at", at.as_str())];
    let page = instructor.saves("/front/waste/recovery/cartridges", &cartridge).await;
    let said = page.text("main");
    assert!(said.contains("1.2 g/L before, 0.30 g/L after: 75.0 % kept back"), "{said}");
    assert!(said.contains("0.900 g") && said.contains("laboratory report 77") && said.contains("number 5"), "{said}");
    assert!(!said.contains("drain"), "{said}");
    nothing_is_wrong(&app).await;
    let unknown = [("means", "prayer"), ("silver", "0.1"), ("happened_at", at.as_str())];
    assert_eq!(instructor.post(&format!("{can}/recover"), &unknown).await.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_container_set_up_by_mistake_is_put_away_and_one_that_was_used_is_not() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let wrong = sets_up(&instructor, "developer", "irritant").await;
    let stands = version(&instructor, &wrong).await;
    let page = instructor.saves(&format!("{wrong}/put-away"), &[("version", &stands)]).await;
    assert!(page.text("main").contains("Put away: set up by mistake"), "{}", page.text("main"));
    let page = instructor.get(&wrong).await;
    assert_eq!(page.text("h1 .tag"), "put away");
    // nothing can be poured into it meanwhile
    let developer = mixes(&instructor, ProductKind::Developer, "1 L").await;
    let refused = retires(&instructor, &developer, &wrong, "1 L", "").await;
    assert!(refused.text("main").contains("was put away"), "{}", refused.text("main"));
    instructor.saves(&format!("{wrong}/take-out"), &[]).await;
    retires(&instructor, &developer, &wrong, "1 L", "").await;
    let stands = version(&instructor, &wrong).await;
    let refused = instructor.post(&format!("{wrong}/put-away"), &[("version", &stands)]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    nothing_is_wrong(&app).await;
}

/// Acids and bleach: on safety data sheets of bleaches; common practice, no source seen.
#[tokio::test]
async fn bleach_goes_into_nothing_but_its_own_container_unless_somebody_says_why() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let bleach = mixes(&instructor, ProductKind::Bleach, "1 L").await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let refused = retires(&instructor, &bleach, &can, "1 L", "").await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text("main").contains("bleach meets nothing else"), "{}", refused.text("main"));
    let own = sets_up(&instructor, "bleach", "oxidising").await;
    assert_eq!(retires(&instructor, &bleach, &own, "1 L", "").await.status, StatusCode::SEE_OTHER);
    nothing_is_wrong(&app).await;
}

#[tokio::test]
async fn a_signed_copy_does_not_come_back_before_it_left() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let can = sets_up(&instructor, "spent fixer", "irritant").await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    retires(&instructor, &fixer, &can, "1 L", "").await;
    let (at, stands) = (local_now(&instructor), version(&instructor, &can).await);
    let removal = [
        ("version", stands.as_str()),
        ("carrier", "Fell & Daughters (invented)"),
        ("destination", "Silver works, dock 4 (invented)"),
        ("reference", "FD-1"),
        ("to_reclaim_silver", "yes"),
        ("happened_at", at.as_str()),
    ];
    let page = instructor.saves(&format!("{can}/remove"), &removal).await;
    assert!(page.text("#removal ~ dl").contains("how long is not entered"), "{}", page.text("#removal ~ dl"));
    let copy = version(&instructor, &can).await;
    for on in ["2026-03-19", "2026-03-21"] {
        let refused = instructor.post(&format!("{can}/copy-returned"), &[("version", &copy), ("on", on)]).await;
        assert!(refused.text("main").contains("must lie between the removal"), "{on}");
    }
    nothing_is_wrong(&app).await;
}
