//! A student looks at the trays and records test strips.

use axum::http::StatusCode;
use shimlight::{
    domain::{
        baths::batch::Slot,
        book::Vessel,
        ids::{AccountId, BatchId},
        people::actor::{Actor, Role},
        stock::product::{Product, ProductKind, Times},
    },
    store::{
        self,
        book::movements::{self, NewBatch, Occasion},
    },
};

use super::sheets::{but, sheet_in_the_sun};
use crate::app::{Answer, Client, TestApp};

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
            store::people::accounts::insert(tx, account, Role::Assistant, &short, "Mixer", "no password", at).await?;
            store::stock::products::insert(tx, &product).await?;
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
    assert_eq!(page.text("table tbody td:nth-of-type(2)"), "watch 90 % of its capacity used");
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
            let state = shimlight::domain::evening::lab_session::SessionState::Closed { opened_at: at, closed_at: at };
            store::evening::lab_sessions::update_state(tx, evening.session, state).await?;
            Ok(String::new())
        })
    })
    .await;
    let student = app.student(evening.section, "07", "Teodora Vask").await;
    assert!(student.get("/bench/chemistry").await.text("p.empty").contains("No session is open"));
    let strips = fields(&app, "4x5in", "4", "2026-03-20T12:00").await;
    assert_eq!(student.post("/bench/chemistry", &borrowed(&strips)).await.status, StatusCode::FORBIDDEN);
}

/// A box with its hole, in an open session.
async fn with_box(student: &Client) {
    let camera = [("build", "box"), ("distance", "100"), ("width", "120"), ("height", "90")];
    student.saves("/bench/camera", &camera).await;
    let hole = [("reading_1", "0.45"), ("reading_2", "0.45"), ("instrument", "0.01")];
    student.saves("/bench/hole", &hole).await;
}

/// Which answer to “has it been through the trays?” is chosen on a page.
fn chosen(page: &Answer) -> Option<String> {
    page.attribute("[name=developed][checked]", "value")
}

#[tokio::test]
async fn nothing_is_booked_in_the_trays_that_nobody_said() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    let dry = student.get("/bench/exposures").await;
    assert!(dry.text("#record").contains("No fixer stands in your trays yet"), "{}", dry.text("main"));
    assert_eq!(chosen(&dry), None);
    let fixer = stands(&app, ProductKind::Fixer, Slot::Fixer, 2_000_000).await;
    let wet = student.get("/bench/exposures").await;
    assert!(!wet.text("#record").contains("No fixer"), "{}", wet.text("#record"));
    assert_eq!(chosen(&wet), None, "it is asked, not assumed");
    let silent = but(sheet_in_the_sun("33", ""), &[("developed", "")]);
    let refused = student.post("/bench/exposures", &silent).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text("[id=record-developed-error]").contains("say whether it went through"));
    // what a sheet's own way says needs no second saying
    let way = student.saves("/bench/ways", &[]).await.attribute("form[action^='/bench/ways/']", "action");
    let way = way.expect("a way on");
    assert_eq!(chosen(&student.get("/bench/exposures").await).as_deref(), Some("no"));
    student.saves(&way, &[("to", "in the trays")]).await;
    let said = student.get("/bench/exposures").await;
    assert_eq!(chosen(&said).as_deref(), Some("yes"));

    student.saves("/bench/exposures", &sheet_in_the_sun("33", "")).await;
    let load = |batch| {
        let app = app.clone();
        async move { store::baths::batches::load(&mut app.state.store.read().await.expect("a reader"), batch).await }
    };
    assert_eq!(load(fixer).await.expect("a load").sheets, 0, "not yet is not yet");
    let through = but(sheet_in_the_sun("33", ""), &[("developed", "yes"), ("developed_at", "2026-03-20T12:00")]);
    student.saves("/bench/exposures", &through).await;
    assert_eq!(load(fixer).await.expect("a load").sheets, 1);
}

/// Gives the product that a batch was mixed from the usual times of a paper developer: a minute for
/// resin-coated paper at 20 °C.
async fn with_times(app: &TestApp, batch: BatchId, rc_s: i64) {
    app.write(move |tx| {
        Box::pin(async move {
            let product = store::baths::batches::find(tx, batch).await?.expect("the batch").product;
            let mut product = store::stock::products::find(tx, product).await?.expect("its product");
            product.times = Times { rc_ms: Some(rc_s * 1000), at_milli_c: Some(20_000), ..Times::NONE };
            store::stock::products::update(tx, &product).await?;
            Ok(String::new())
        })
    })
    .await;
}

#[tokio::test]
async fn the_trays_say_how_long_in_each_and_a_cold_developer_takes_longer() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    let fixer = stands(&app, ProductKind::Fixer, Slot::Fixer, 2_000_000).await;
    let developer = stands(&app, ProductKind::Developer, Slot::Developer, 2_000_000).await;
    with_times(&app, developer, 60).await;
    let times = |page: &Answer| page.texts("[aria-label='What stands in the trays'] tbody tr td:nth-of-type(1)");
    let page = student.get("/bench/chemistry").await;
    assert_eq!(times(&page), ["1 min", "not given", "4 min"], "developer, fixer, wash");
    with_times(&app, fixer, 30).await;
    // 60 s × 2.4^((20 − 15) / 10) = 93 s: the factor of makers' charts, value from memory
    let cold = student.get("/bench/chemistry?developer_at=15").await;
    assert_eq!(times(&cold), ["1 min 33 s", "30 s", "4 min"]);
    assert!(cold.text("main").contains("the developer at 15 °C"), "{}", cold.text("main"));
    let wrong = student.get("/bench/chemistry?developer_at=warm").await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.error_beside("developer_at").contains("type a temperature"));
    assert_eq!(wrong.attribute("[name=developer_at]", "value").as_deref(), Some("warm"));
    // the page to come back to shows them while a sheet is in the trays, and prints say minutes too
    let way = student.saves("/bench/ways", &[]).await.attribute("form[action^='/bench/ways/']", "action");
    let home = student.saves(&way.expect("a way on"), &[("to", "in the trays")]).await;
    assert_eq!(home.text("h1"), "Mind the time in each tray");
    assert_eq!(home.texts("[data-part=now] .reading .value"), ["1 min", "30 s", "4 min"]);
    assert!(student.get("/bench/prints").await.text("ol").contains("full time, 1 min"));
}
