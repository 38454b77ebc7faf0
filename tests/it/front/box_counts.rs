//! `/front/sessions/{id}/box`: what was taken from the box and what went through the trays.

use axum::http::StatusCode;
use shimlight::domain::{baths::batch::Slot, stock::product::ProductKind};

use super::chemistry::{local_now, mixes, sets_in, sheets_through};
use crate::app::TestApp;

#[tokio::test]
async fn strips_that_nobody_wrote_down_are_found_and_recorded() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "2 L").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    let evening = app.the_evening().await;
    let path = format!("/front/sessions/{}/box", evening.session);
    let paper = evening.paper.to_string();
    let begun = [("paper", paper.as_str()), ("size", "4 x 5 in"), ("at_start", "50"), ("spoilt", "0")];
    let page = instructor.saves(&path, &begun).await;
    assert!(page.text("#verdict ~ ul").contains("count the box again"), "{}", page.text("main"));
    let twice = instructor.post(&path, &begun).await;
    assert!(twice.error_beside("size").contains("counted already"), "{}", twice.text("main"));

    // five sheets of 4 × 5 in through the trays by a student; nine taken, one of them fogged
    sheets_through(&app, &student, 1, 5).await;
    let again = [
        ("paper", paper.as_str()),
        ("size", "4x5in"),
        ("at_start", "50"),
        ("at_end", "41"),
        ("spoilt", "1"),
        ("version", "1"),
    ];
    let page = instructor.saves(&path, &again).await;
    let said = page.text("#verdict ~ ul");
    assert!(said.contains("missing") && said.contains("3.0 sheets of 4x5in were taken and are not recorded"), "{said}");
    let record = page.attribute("#verdict ~ ul a", "href").expect("a way to record them");
    let form = instructor.get(&record).await;
    assert_eq!(form.attribute("[name=session] option[selected]", "value"), Some(evening.session.to_string()));

    let at = local_now(&instructor);
    let session = evening.session.to_string();
    let line = evening.tray_line.to_string();
    let strips = [
        ("line", line.as_str()),
        ("session", session.as_str()),
        ("paper", paper.as_str()),
        ("what", "test strip"),
        ("sheets", "3"),
        ("width", "4 in"),
        ("height", "5 in"),
        ("happened_at", at.as_str()),
    ];
    instructor.saves("/front/chemistry/sheets", &strips).await;
    let page = instructor.get(&path).await;
    assert_eq!(page.text("#verdict ~ ul .tag"), "agree");

    let stale = instructor.post(&path, &again).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    let wrong = [("paper", paper.as_str()), ("size", "8x10in"), ("at_start", "5"), ("at_end", "6"), ("spoilt", "-1")];
    let refused = instructor.post(&path, &wrong).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let said = refused.texts(".error").join("; ");
    assert!(said.contains("must not be more than at the start") && said.contains("whole number"), "{said}");
}
