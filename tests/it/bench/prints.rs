//! Contact prints from one's own negatives.

use axum::http::StatusCode;
use shimlight::{
    domain::{baths::sheet_run::SheetOf, ids::ExposureId},
    store,
};

use super::sheets::{but, id_of, sheet_in_the_sun, with_box};
use crate::app::{Client, TestApp};

/// A student with one negative.
async fn with_negative() -> (std::sync::Arc<TestApp>, Client, ExposureId, String) {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    let sheet = student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await;
    let paper = app.the_evening().await.paper.to_string();
    (app, student, id_of(&sheet), paper)
}

const DEVELOPED: [(&str, &str); 2] = [("developed", "yes"), ("developed_at", "2026-03-20T12:00")];

fn a_print<'a>(negative: &'a str, paper: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![
        ("exposure", negative),
        ("paper", paper),
        ("made", "8"),
        ("light", "15 W bulb, 1 m above"),
        ("sheet", "4x5in"),
        ("made_at", "2026-03-20T12:00"),
        ("developed", "no"),
        ("verdict", ""),
        ("remark", ""),
    ]
}

#[tokio::test]
async fn a_print_needs_a_negative_and_the_page_says_so() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let page = student.get("/bench/prints").await;
    assert!(page.text("p.empty").contains("A print needs a negative"), "{}", page.text("main"));
    assert!(page.text("aside.caution").contains("edge"));
    assert!(page.text("ol").contains("2 s"));
}

#[tokio::test]
async fn a_print_too_dark_is_followed_by_half_the_time() {
    let (app, student, negative, paper) = with_negative().await;
    let negative = negative.to_string();
    let page = student
        .saves(
            "/bench/prints",
            &but(a_print(&negative, &paper), &[("verdict", "too dark"), DEVELOPED[0], DEVELOPED[1]]),
        )
        .await;
    assert!(page.text("p.saved").contains("print recorded (sheet 1, 8 s)"), "{}", page.text("p.saved"));
    assert!(page.text("ul.plain li").contains("try 4 s"), "{}", page.text("ul.plain"));
    // lamp and size are offered again
    assert_eq!(page.attribute("[name=light]", "value").as_deref(), Some("15 W bulb, 1 m above"));
    let mut conn = app.state.store.read().await.expect("a reader");
    let session = app.the_evening().await.session;
    let prints = store::exposure::prints::list_of_session(&mut conn, session).await.expect("prints");
    assert_eq!(prints.len(), 1);
    assert_eq!((prints[0].made_ms, prints[0].exposure.to_string()), (8_000, negative));
}

#[tokio::test]
async fn each_mistake_is_told_beside_its_field_and_nothing_is_kept() {
    let (app, student, negative, paper) = with_negative().await;
    let negative = negative.to_string();
    for (field, value, words) in [
        ("made", "", "type how long"),
        ("made", "eight", "is not a time"),
        ("sheet", "postcard", "with its unit"),
        ("made_at", "", "must be a date and time"),
        ("made_at", "2026-03-21T12:00", "lies ahead"),
        ("verdict", "lovely", "choose one of those offered"),
        ("exposure", "", "choose one of those offered"),
        ("exposure", "0198d5b3-0000-7000-8000-000000000000", "choose one of those offered"),
        ("paper", "none", "choose one of those offered"),
        ("developed", "", "say whether it went through"),
    ] {
        let answer = student.post("/bench/prints", &but(a_print(&negative, &paper), &[(field, value)])).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{field} {value}");
        // a question with several answers has its message at the question
        let beside = answer.text(&format!("[id={field}-error]"));
        assert!(beside.contains(words), "{field} {value}: {beside}");
    }
    let mut conn = app.state.store.read().await.expect("a reader");
    let session = app.the_evening().await.session;
    assert!(store::exposure::prints::list_of_session(&mut conn, session).await.expect("prints").is_empty());
}

#[tokio::test]
async fn a_stranger_can_neither_print_nor_see_it_and_a_partner_can() {
    let (app, student, negative, paper) = with_negative().await;
    let negative = negative.to_string();
    let section = app.the_evening().await.section;
    let stranger = app.student(section, "09", "Noor Halim").await;
    let refused = stranger.post("/bench/prints", &a_print(&negative, &paper)).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let partner = app.student(section, "08", "Ilka Brandt").await;
    partner.saves("/bench/camera/join", &[("number", "1"), ("partner", "07")]).await;
    let page = partner.saves("/bench/prints", &a_print(&negative, &paper)).await;
    let path = page.attribute("tbody th a", "href").expect("a print");
    assert_eq!(student.get(&path).await.status, StatusCode::OK);
    assert_eq!(stranger.get(&path).await.status, StatusCode::NOT_FOUND);
    assert_eq!(stranger.post(&path, &a_print(&negative, &paper)).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_print_counts_in_the_trays_and_a_stale_correction_is_refused_with_both_versions() {
    let (app, student, negative, paper) = with_negative().await;
    let negative = negative.to_string();
    let developed = but(a_print(&negative, &paper), &[("developed", "yes"), ("developed_at", "2026-03-20T12:00")]);
    let page = student.saves("/bench/prints", &developed).await;
    let path = page.attribute("tbody th a", "href").expect("a print");
    let id = path.rsplit('/').next().and_then(|id| id.parse().ok()).expect("an id");
    let area = |app: std::sync::Arc<TestApp>| async move {
        let mut conn = app.state.store.read().await.expect("a reader");
        let run = store::baths::sheet_runs::find_of(&mut conn, SheetOf::Print(id)).await.expect("read");
        run.map(|run| run.area_mm2)
    };
    assert_eq!(area(app.clone()).await, Some(12_903));
    let corrected = but(developed, &[("sheet", "9x12cm"), ("verdict", "right"), ("version", "1")]);
    let page = student.saves(&path, &corrected).await;
    assert!(page.text("table").contains("9 × 12 cm"));
    assert_eq!(area(app.clone()).await, Some(10_800));
    let stale = student.post(&path, &but(corrected, &[("made", "12")])).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    let cells = stale.texts("table td");
    assert!(cells.contains(&"12 s".to_owned()) && cells.contains(&"8 s".to_owned()), "{cells:?}");
}

#[tokio::test]
async fn a_print_shows_nothing_before_the_trays_nor_can_a_negative_be_printed_that_saw_none() {
    let (_app, student, negative, paper) = with_negative().await;
    let negative = negative.to_string();
    let early = student.post("/bench/prints", &but(a_print(&negative, &paper), &[("verdict", "right")])).await;
    assert_eq!(early.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(early.error_beside("verdict").contains("before the trays a print shows nothing"), "{}", early.text("main"));
    assert_eq!(student.get("/bench/prints").await.text("ul.plain"), "", "no advice from it");

    let waiting = id_of(&student.saves("/bench/exposures", &sheet_in_the_sun("33", "")).await).to_string();
    let page = student.get("/bench/prints").await;
    let offered = page.texts("[name=exposure] option");
    assert!(
        offered.iter().any(|words| words == "sheet 2: not looked at yet, not through the trays yet"),
        "{offered:?}"
    );
    let refused = student.post("/bench/prints", &a_print(&waiting, &paper)).await;
    assert!(refused.error_beside("exposure").contains("sheet 2 has not been through"), "{}", refused.text("main"));
    let through = [("version", "1"), ("developed_at", "2026-03-20T12:00")];
    student.saves(&format!("/bench/exposures/{waiting}/trays"), &through).await;
    student.saves("/bench/prints", &a_print(&waiting, &paper)).await;

    // recorded as right, it is not said afterwards to have seen no tray
    let good = but(a_print(&negative, &paper), &[("verdict", "right"), DEVELOPED[0], DEVELOPED[1], ("made", "9")]);
    let list = student.saves("/bench/prints", &good).await;
    let print = list.attribute("tbody tr:first-child a[href*='/bench/prints/']", "href").expect("the print");
    let undone = but(a_print(&negative, &paper), &[("verdict", "right"), ("version", "1")]);
    let refused = student.post(&print, &undone).await;
    assert!(refused.error_beside("verdict").contains("before the trays"), "{}", refused.text("main"));
}
