//! A student looks at the trays and records test strips.

use axum::http::StatusCode;
use shimlight::{
    domain::{
        actor::{Actor, Role},
        batch::Slot,
        book::Vessel,
        ids::{AccountId, BatchId},
        product::{Product, ProductKind},
    },
    store::{
        self,
        movements::{self, NewBatch, Occasion},
    },
};

use crate::app::TestApp;

/// Mixes a litre and sets it into the session's tray line.
async fn stands(app: &TestApp, kind: ProductKind, slot: Slot, capacity_mm2_per_l: i64) -> BatchId {
    let evening = app.the_evening().await;
    let account: AccountId = app.state.mint();
    let (batch, at, tray_slot) = (app.state.mint::<BatchId>(), app.state.now(), app.state.mint());
    let product = Product {
        capacity_mm2_per_l: Some(capacity_mm2_per_l),
        tray_life_ms: Some(8 * 3_600_000),
        silver_limit_ug_per_l: Some(2_000_000).filter(|_| kind == ProductKind::Fixer),
        ..Product::bare(app.state.mint(), evening.site, kind, &format!("Plain {}", kind.as_str()), (1, 4))
    };
    let occasion = Occasion {
        movement: app.state.mint(),
        actor: Actor::Staff(account),
        happened_at: at,
        recorded_at: at,
        remark: String::new(),
    };
    app.write(move |tx| {
        Box::pin(async move {
            let sign_in_name = format!("mixer{account}");
            let short = sign_in_name.chars().take(60).collect::<String>();
            store::accounts::insert(tx, account, Role::Assistant, &short, "Mixer", "no password", at).await?;
            store::products::insert(tx, &product).await?;
            let new = NewBatch { id: batch, product, parts_concentrate: 1, parts_water: 4, volume_ul: 1_000_000 };
            movements::mix(tx, &occasion, new).await?;
            movements::set_in(tx, tray_slot, (evening.tray_line, slot), batch, at, at).await?;
            Ok(String::new())
        })
    })
    .await;
    batch
}

async fn fields(
    app: &TestApp,
    size: &'static str,
    sheets: &'static str,
    at: &'static str,
) -> Vec<(&'static str, String)> {
    let paper = app.the_evening().await.paper.to_string();
    [("what", "test strip"), ("size", size), ("sheets", sheets), ("developed_at", at)]
        .map(|(name, value)| (name, value.to_owned()))
        .into_iter()
        .chain([("paper", paper)])
        .collect()
}

fn borrowed<'a>(fields: &'a [(&'static str, String)]) -> Vec<(&'a str, &'a str)> {
    fields.iter().map(|(name, value)| (*name, value.as_str())).collect()
}

#[tokio::test]
async fn the_page_says_what_stands_in_the_trays_and_how_to_behave() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let empty = student.get("/bench/chemistry").await;
    assert_eq!(empty.text("h1"), "Trays: By the sink");
    assert!(empty.text("p.empty").contains("Nothing stands in this line yet"));
    let caution = empty.text("aside.caution");
    for words in
        ["Tongs or gloves", "goggles", "No food", "floor gets wet", "Dry hands", "Acid goes into water", "Never carry"]
    {
        assert!(caution.contains(words), "{words}");
    }
    stands(&app, ProductKind::Developer, Slot::Developer, 2_000_000).await;
    let page = student.get("/bench/chemistry").await;
    assert_eq!(page.text("table tbody th .note"), "developer 1: Plain developer 1+4");
    assert_eq!(page.text("table .tag"), "use");
    assert!(page.texts("p.empty")[0].contains("No fixer stands in this line"));
}

#[tokio::test]
async fn test_strips_load_the_batches_and_the_silver_book() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    stands(&app, ProductKind::Developer, Slot::Developer, 2_000_000).await;
    let fixer = stands(&app, ProductKind::Fixer, Slot::Fixer, 2_000_000).await;
    let strips = fields(&app, "4x5in", "4", "2026-03-20T12:00").await;

    let page = student.saves("/bench/chemistry", &borrowed(&strips)).await;

    assert!(page.text("p.saved").contains("sheets through the trays (4 × test strip)"));
    // four sheets of 4x5 inches are 4 × 129.03 cm²
    assert_eq!(page.text("section.sheet table tbody th"), "12:00 test strip, 4 sheets");
    assert_eq!(page.text("section.sheet table tbody td"), "516");
    let mut conn = app.state.store.read().await.expect("a reader");
    let held = store::book::balance(&mut conn, Vessel::Batch(fixer)).await.expect("a balance");
    // 0.0516 m² at 0.97 g/m²: 50.06 mg, less what the carried liquid took to the wash
    assert!((49_000..50_100).contains(&held.silver.best_ug), "{held:?}");

    let take_back = page.attribute("form[action$=take-back]", "action").expect("a way back");
    let other = app.student(app.the_evening().await.section, "11", "Bram Okafor").await;
    assert_eq!(other.post(&take_back, &[]).await.status, StatusCode::NOT_FOUND);
    let after = student.saves(&take_back, &[]).await;
    assert!(after.body.contains("Nothing of yours went through"));
    let held = store::book::balance(&mut conn, Vessel::Batch(fixer)).await.expect("a balance");
    assert_eq!(held.silver.best_ug, 0);
}

#[tokio::test]
async fn a_batch_near_its_capacity_is_watched_and_one_past_it_changed() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    // a litre for ten sheets of 4x5 inches
    stands(&app, ProductKind::Developer, Slot::Developer, 129_030).await;
    let nine = fields(&app, "4x5in", "9", "2026-03-20T12:00").await;
    let page = student.saves("/bench/chemistry", &borrowed(&nine)).await;
    assert_eq!(page.text("table .tag"), "watch");
    assert_eq!(page.text("table tbody td"), "watch 90 % of its capacity used");
    let more = fields(&app, "4x5in", "2", "2026-03-20T12:00").await;
    assert_eq!(student.saves("/bench/chemistry", &borrowed(&more)).await.text("table .tag"), "change");
}

#[tokio::test]
async fn each_mistake_is_told_beside_its_field_and_what_was_typed_stays() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    for (field, size, sheets, at, words) in [
        ("size", "half a sheet", "1", "2026-03-20T12:00", "width x height"),
        ("sheets", "4x5in", "0", "2026-03-20T12:00", "from 1 to 100"),
        ("sheets", "4x5in", "many", "2026-03-20T12:00", "whole number"),
        ("developed_at", "4x5in", "1", "2026-03-20T13:00", "in the future"),
        ("developed_at", "4x5in", "1", "2026-03-20T11:00", "session was opened"),
        ("developed_at", "4x5in", "1", "soon", "a date and time"),
    ] {
        let sent = fields(&app, size, sheets, at).await;
        let answer = student.post("/bench/chemistry", &borrowed(&sent)).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{sent:?}");
        assert!(answer.error_beside(field).contains(words), "{field}: {}", answer.error_beside(field));
        assert_eq!(answer.attribute("[name=size]", "value").as_deref(), Some(size));
    }
}

#[tokio::test]
async fn without_an_open_session_the_page_says_so_kindly() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let at = app.state.now();
    app.write(move |tx| {
        Box::pin(async move {
            let state = shimlight::domain::lab_session::SessionState::Closed { opened_at: at, closed_at: at };
            store::lab_sessions::update_state(tx, evening.session, state).await?;
            Ok(String::new())
        })
    })
    .await;
    let student = app.student(evening.section, "07", "Teodora Vask").await;
    assert!(student.get("/bench/chemistry").await.text("p.empty").contains("No session is open"));
    let strips = fields(&app, "4x5in", "4", "2026-03-20T12:00").await;
    assert_eq!(student.post("/bench/chemistry", &borrowed(&strips)).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn nobody_is_led_to_say_a_sheet_was_developed_while_no_fixer_stands() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let camera = [("build", "box"), ("distance", "100"), ("width", "120"), ("height", "90")];
    student.saves("/bench/camera", &camera).await;
    let hole = [("reading_1", "0.45"), ("reading_2", "0.45"), ("instrument", "0.01")];
    student.saves("/bench/hole", &hole).await;
    let dry = student.get("/bench/exposures").await;
    assert!(dry.text("#record").contains("No fixer stands in your trays yet"), "{}", dry.text("main"));
    assert_eq!(dry.attribute("[name=developed][checked]", "name"), None);
    stands(&app, ProductKind::Fixer, Slot::Fixer, 2_000_000).await;
    let wet = student.get("/bench/exposures").await;
    assert!(!wet.text("#record").contains("No fixer"), "{}", wet.text("#record"));
    assert_eq!(wet.attribute("[name=developed][checked]", "name").as_deref(), Some("developed"));
}
