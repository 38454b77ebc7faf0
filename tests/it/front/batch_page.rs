//! A batch's own page: clearing tests, times at today's temperature, the label of its bottle.

use axum::http::StatusCode;
use shimlight::{
    domain::{
        baths::batch::Slot,
        people::actor::Role,
        stock::product::{Product, ProductKind, Times},
    },
    store,
};

use super::chemistry::{local_now, mixes, nothing_is_wrong, sets_in};
use crate::app::{Client, TestApp};

/// A batch of a product with these changes to its card.
async fn mixes_with(app: &TestApp, staff: &Client, kind: ProductKind, change: fn(Product) -> Product) -> String {
    let batch = mixes(staff, kind, "1 L").await;
    let id = batch.rsplit('/').next().expect("an id").parse().expect("an id");
    app.write(move |tx| {
        Box::pin(async move {
            let batch = store::baths::batches::find(tx, id).await?.expect("mixed");
            let product = store::stock::products::find(tx, batch.product).await?.expect("stocked");
            store::stock::products::update(tx, &change(product)).await?;
            Ok(String::new())
        })
    })
    .await;
    batch
}

#[tokio::test]
async fn a_fixer_in_which_film_takes_twice_as_long_to_clear_is_to_be_changed() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let fixer = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    sets_in(&instructor, &fixer, Slot::Fixer).await;
    let at = local_now(&instructor);
    let test = |now: &'static str| [("fresh", "30"), ("now", now), ("happened_at", at.as_str())];
    let page = instructor.saves(&format!("{fixer}/clearing"), &test("40")).await;
    assert_eq!(page.text("h1 .tag"), "use");
    app.state.world.clock.forward_minutes(1);
    let page = instructor.saves(&format!("{fixer}/clearing"), &test("60")).await;
    assert_eq!(page.text("h1 .tag"), "change");
    assert!(
        page.text("#glance ~ ul").contains("film clears in 1 min, in the fresh fixer in 30 s"),
        "{}",
        page.text("main")
    );
    // the student at the trays is told the same
    let trays = student.get("/bench/chemistry").await;
    assert_eq!(trays.text("table .tag"), "change");
    assert!(trays.text("table").contains("film clears in 1 min"), "{}", trays.text("table"));
    let back = page.texts("#clearing ~ ul li").len();
    assert_eq!(back, 2);
    let forms = page.attribute("#clearing ~ ul li:last-child form", "action").expect("a way back");
    let page = instructor.saves(&forms, &[]).await;
    assert_eq!(page.text("h1 .tag"), "use", "{}", page.text("#clearing ~ ul"));
    let refused =
        instructor.post(&format!("{fixer}/clearing"), &[("fresh", "soon"), ("now", "0"), ("happened_at", &at)]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        !refused.error_beside("clearing-fresh").is_empty() || !refused.error_beside("fresh").is_empty(),
        "{}",
        refused.text("main")
    );
    nothing_is_wrong(&app).await;
}

/// 10 min at 20 °C are 7 min at 24 °C on the charts that makers print (value from memory).
#[tokio::test]
async fn film_is_developed_by_todays_temperature_and_paper_never_shorter() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let developer = mixes_with(&app, &instructor, ProductKind::Developer, |product| Product {
        times: Times { rc_ms: Some(60_000), film_ms: Some(600_000), at_milli_c: Some(20_000), ..Times::NONE },
        ..product
    })
    .await;
    let page = instructor.get(&format!("{developer}?now_c=24")).await;
    assert_eq!(page.text("#times"), "How long, at 24 °C");
    assert_eq!(page.texts("#times ~ dl dd strong"), ["1 min", "7 min 3 s"]);
    assert!(page.text("#times ~ dl").contains("never shorter than 1 min"), "{}", page.text("#times ~ dl"));
    let cold = instructor.get(&format!("{developer}?now_c=61%20F")).await;
    assert!(cold.text("#times").starts_with("How long, at 16.111"), "{}", cold.text("#times"));
    let wrong = instructor.get(&format!("{developer}?now_c=warm")).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.error_beside("now_c").contains("68 F"), "{}", wrong.text("#times"));
}

#[tokio::test]
async fn a_bottle_gets_a_label_only_with_its_hazards() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let bare = mixes(&instructor, ProductKind::StopBath, "1 L").await;
    let refused = instructor.get(&format!("{bare}/label")).await;
    assert_eq!((refused.status, refused.text("h1").as_str()), (StatusCode::CONFLICT, "No label yet"));
    let fixer = mixes_with(&app, &instructor, ProductKind::Fixer, |product| Product {
        hazards: "irritates eyes".to_owned(),
        data_sheet: "red folder".to_owned(),
        ..product
    })
    .await;
    let label = instructor.get(&format!("{fixer}/label")).await;
    assert_eq!(label.status, StatusCode::OK);
    let said = label.text(".cut-card");
    for words in [
        "Quarry fixer",
        "irritates eyes",
        "red folder",
        "1+4",
        "20 Mar 2026, 12:00, by Ines Quarry",
        "into the waste container",
    ] {
        assert!(said.contains(words), "{words}: {said}");
    }
    assert!(!said.contains("drain"), "{said}");
    assert_eq!(student.get(&format!("{fixer}/label")).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn an_instructor_reads_fahrenheit_and_fluid_ounces_and_their_assistant_does_not() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let developer = mixes_with(&app, &instructor, ProductKind::Developer, |product| Product {
        times: Times { film_ms: Some(600_000), at_milli_c: Some(20_000), ..Times::NONE },
        ..product
    })
    .await;
    let page = instructor.get(&developer).await;
    assert!(page.text("main").contains("1000 mL") && !page.text("main").contains("fl oz ("), "{}", page.text("main"));
    assert_eq!(page.text(".foot [name=units]"), "Read in °F and US fl oz");
    let page = instructor.saves("/front/units", &[("units", "inch"), ("back", &developer)]).await;
    assert!(page.text("main").contains("33.8 fl oz (1000 mL)"), "{}", page.text("main"));
    assert_eq!(page.attribute("[name=now_c]", "value").as_deref(), Some("68"), "20 °C on the bottle");
    let warmer = instructor.get(&format!("{developer}?now_c=75")).await;
    assert!(warmer.text("main").contains("75 °F"), "{}", warmer.text("main"));
    let assistant = app.staff(Role::Assistant, "Pat Lumen").await;
    assert!(!assistant.get(&developer).await.text("main").contains("fl oz ("), "units follow the person");
    // a form that was refused stands at an address that is only sent to
    let (units, refused) = ([("units", "metric")], format!("{developer}/write-off"));
    for (back, page) in [(refused.as_str(), developer.as_str()), ("/front/stockroom/trays", "/front/stockroom")] {
        let answer = instructor.post("/front/units", &[units[0], ("back", back)]).await;
        assert_eq!(answer.location(), page);
    }
    let wrong = instructor.post("/front/units", &[("units", "cubits"), ("back", &developer)]).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
}
