//! `/front/sessions/{id}/needs`: from so many students to litres, bottles and minutes.

use axum::http::StatusCode;
use shimlight::{
    domain::{
        baths::batch::Slot,
        stock::product::{Product, ProductKind},
    },
    store,
};

use super::chemistry::{mixes, sets_in};
use crate::app::TestApp;

/// The usual stock leaves empty how many sheets of resin-coated paper a litre takes: this site read its bottles.
async fn reads_the_bottles(app: &TestApp) {
    let mut conn = app.state.store.read().await.expect("a reader");
    let shelf = store::stock::products::list(&mut conn).await.expect("products");
    drop(conn);
    app.write(move |tx| {
        Box::pin(async move {
            for product in shelf {
                let rc_capacity_mm2_per_l = match product.kind {
                    ProductKind::Developer => Some(5_160_000),
                    ProductKind::StopBath => Some(1_030_000),
                    ProductKind::Fixer => Some(4_130_000),
                    _ => None,
                };
                store::stock::products::update(tx, &Product { rc_capacity_mm2_per_l, ..product }).await?;
            }
            Ok(String::new())
        })
    })
    .await;
}

async fn path(app: &TestApp) -> String {
    format!("/front/sessions/{}/needs", app.the_evening().await.session)
}

#[tokio::test]
async fn a_session_says_area_baths_changes_and_what_to_buy() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/stockroom/usual", &[]).await;
    reads_the_bottles(&app).await;
    let page =
        instructor.get(&format!("{}?students=24&sheets_each=6&prints_each=2&sheet=4x5in", path(&app).await)).await;
    assert_eq!(page.status, StatusCode::OK);
    // 192 sheets of 4 × 5 in: 2.48 m² (worked by hand in this test)
    assert_eq!(page.text("#area ~ .reading .name"), "192 sheets of 4 × 5 in");
    assert_eq!(page.text("#area ~ .reading .value"), "2.48");
    let prep = page.attribute("a[href*='/prep?']", "href").expect("a link to the prep sheet");
    assert!(prep.contains("&sheet=4x5in&"), "an address has no blanks: {prep}");
    let prep = instructor.get(&prep).await;
    assert!(prep.text("caption").starts_with("192 sheets of 4 × 5 in"), "{}", prep.text("caption"));
    let baths = page.texts("#baths ~ div tbody tr");
    // trays for 8 × 10 in hold a litre; 2.48 m² of resin-coated paper at 5.16 m²/L is half of one
    assert!(
        baths
            .iter()
            .any(|row| row.contains("Paper developer") && row.contains("1 filling") && row.contains("no change")),
        "{baths:?}"
    );
    // stop bath: 1.03 m²/L, so three litres
    assert!(
        baths.iter().any(|row| row.contains("Stop bath") && row.contains("3 fillings") && row.contains("2 changes")),
        "{baths:?}"
    );
    assert!(
        baths.iter().any(|row| row.contains("1 L: first 800 mL of water, then 200 mL of concentrate")
            || row.contains("1000 mL: first 800 mL of water, then 200 mL of concentrate")),
        "{baths:?}"
    );
    assert!(!page.text("main").contains("Washing aid"), "resin-coated paper needs none");
    let buy = page.texts("#buy ~ div tbody tr");
    assert!(buy[0].contains("192 sheets") && buy[0].contains("count the box first"), "{buy:?}");
    assert!(buy.iter().any(|row| row.contains("look at the shelf first")), "{buy:?}");
}

#[tokio::test]
async fn what_is_counted_on_the_shelf_and_stands_in_batches_is_taken_off() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/stockroom/usual", &[]).await;
    reads_the_bottles(&app).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let shelf = store::stock::products::list(&mut conn).await.expect("products");
    let fixer = shelf.iter().find(|product| product.kind == ProductKind::Fixer).expect("stocked").clone();
    drop(conn);
    app.write(move |tx| {
        Box::pin(async move {
            let counted = Product { on_shelf_ul: Some(50_000), ..fixer };
            store::stock::products::update(tx, &counted).await?;
            Ok(String::new())
        })
    })
    .await;
    let ask = format!("{}?students=24&sheets_each=8&prints_each=0&sheet=4x5in", path(&app).await);
    // the evening's paper: the silver limit of 2 g/L is reached before the capacity of 4.13 m²/L: two litres
    let before = instructor.get(&ask).await.texts("#buy ~ div tbody tr");
    assert!(
        before.iter().any(|row| row.contains("Rapid fixer") && row.contains("50 mL") && row.ends_with("350 mL")),
        "{before:?}"
    );

    let stands = mixes(&instructor, ProductKind::Fixer, "2 L").await;
    sets_in(&instructor, &stands, Slot::Fixer).await;
    let page = instructor.get(&ask).await;
    let baths = page.texts("#baths ~ div tbody tr");
    assert!(
        baths.iter().any(|row| row.contains("Rapid fixer") && row.contains("good for") && row.contains("none")),
        "{baths:?}"
    );
    let after = page.texts("#buy ~ div tbody tr");
    assert!(after.iter().any(|row| row.contains("Rapid fixer") && row.ends_with("nothing")), "{after:?}");
}

#[tokio::test]
async fn the_places_in_the_dark_decide_how_many_rounds_fit() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let rounds = async |places: &str| {
        let query = format!("{}?students=24&sheets_each=2&prints_each=0&places={places}&start=09:30", path(&app).await);
        let page = instructor.get(&query).await;
        (
            page.text("#timetable ~ .reading .value"),
            page.text("#timetable ~ .reading .interval"),
            page.texts("#timetable ~ div tbody th"),
        )
    };
    let (fits, decides, begins) = rounds("6").await;
    assert_eq!((fits.as_str(), decides.as_str()), ("4 of 4 wanted", "the cycle itself decides"));
    assert_eq!(begins[..2], ["09:30".to_owned(), "09:45".to_owned()], "{begins:?}");
    // 12 cameras × 9.5 min in the dark at two places: a round takes 57 min
    let (fits, decides, _) = rounds("2").await;
    assert_eq!((fits.as_str(), decides.as_str()), ("1 of 4 wanted", "the places in the dark decide"));
}

#[tokio::test]
async fn wrong_figures_are_named_beside_their_fields_and_stay() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let query = "?students=many&sheet=postcard&places=0&start=noon&load=-3";
    let page = instructor.get(&format!("{}{query}", path(&app).await)).await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    for field in ["students", "sheet", "places", "start", "load"] {
        assert!(!page.error_beside(field).is_empty(), "{field}");
    }
    assert_eq!(page.attribute("[name=sheet]", "value").as_deref(), Some("postcard"));
}

#[tokio::test]
async fn what_sheets_carry_over_is_the_papers_and_can_be_another_for_one_plan() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/stockroom/usual", &[]).await;
    reads_the_bottles(&app).await;
    let path = path(&app).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let paper =
        store::stock::papers::find(&mut conn, app.the_evening().await.paper).await.expect("read").expect("a paper");
    drop(conn);
    let ask = "?students=24&sheets_each=8&prints_each=0&sheet=4x5in";
    let usual = instructor.get(&format!("{path}{ask}")).await;
    let card = shimlight::domain::measure::decimal::written(paper.carry_over_ul_per_m2, 3);
    let begins = instructor.get(&path).await;
    assert_eq!(begins.attribute("[name=carry_over]", "value").as_deref(), Some(card.as_str()));
    assert!(usual.text("#carried").contains("on to the next"), "{}", usual.text("#carried"));
    // 2.477 m² (worked by hand in this test) × 100 mL/m² = 248 mL
    let other = instructor.get(&format!("{path}{ask}&carry_over=100")).await;
    assert!(other.text("#carried").contains("248 mL"), "{}", other.text("#carried"));
    assert!(other.text("#carried").contains("into the first rinse"), "{}", other.text("#carried"));
    let refused = instructor.get(&format!("{path}{ask}&carry_over=2001&second_fixer=perhaps")).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.error_beside("carry_over").contains("from 0 to 2000"));
    assert_eq!(refused.error_beside("second_fixer"), "must be yes or no");
    assert_eq!(refused.attribute("[name=carry_over]", "value").as_deref(), Some("2001"));
}

#[tokio::test]
async fn a_second_fixer_in_the_sessions_tray_line_is_planned_with_its_filling_and_its_change() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/stockroom/usual", &[]).await;
    reads_the_bottles(&app).await;
    let path = path(&app).await;
    let ask = format!("{path}?students=24&sheets_each=8&prints_each=0&sheet=4x5in");
    let second = |page: &crate::app::Answer| {
        page.texts("#baths ~ div tbody tr").into_iter().find(|row| row.contains("second fixer"))
    };
    assert_eq!(second(&instructor.get(&ask).await), None);
    let wanted = instructor.get(&format!("{ask}&second_fixer=yes")).await;
    let row = second(&wanted).expect("planned because it was asked for");
    assert!(row.contains("1 filling") && row.contains("1 change"), "{row}");
    // two fillings of the first (2 g/L decides) and one of the second, a litre each at 1+4
    let buy = wanted.texts("#buy ~ div tbody tr");
    assert!(buy.iter().any(|row| row.contains("Rapid fixer") && row.contains("600 mL")), "{buy:?}");

    let stands = mixes(&instructor, ProductKind::Fixer, "1 L").await;
    sets_in(&instructor, &stands, Slot::SecondFixer).await;
    let page = instructor.get(&ask).await;
    let row = second(&page).expect("planned because one stands there");
    assert!(row.contains("none") && row.contains("1 change"), "{row}");
    let first = page.texts("#baths ~ div tbody tr").into_iter().find(|row| row.starts_with("Rapid fixer"));
    assert!(first.expect("a row").contains("2 fillings"), "what stands second is not counted for the first");
    let prep = instructor.get(&format!("{}/prep", path.trim_end_matches("/needs"))).await;
    assert!(prep.texts("table.mix tbody th").iter().any(|name| name.contains("second fixer")));
}

#[tokio::test]
async fn the_prep_sheet_begins_with_the_figures_of_the_needs() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/stockroom/usual", &[]).await;
    reads_the_bottles(&app).await;
    let evening = app.the_evening().await;
    app.write(move |tx| {
        Box::pin(async move {
            let sheet = shimlight::domain::stock::sheet::Sheet::parse("9x12cm").expect("a size");
            let size = shimlight::domain::stock::shelf::ShelfSize { sheet, sheets: None };
            store::stock::paper_sizes::replace(tx, evening.paper, &[size]).await?;
            Ok(String::new())
        })
    })
    .await;
    let path = path(&app).await;
    let (needs, prep) =
        (instructor.get(&path).await, instructor.get(&format!("{}/prep", path.trim_end_matches("/needs"))).await);
    let value = |page: &crate::app::Answer, field: &str| {
        page.attribute(&format!("[name={field}]"), "value").unwrap_or_default()
    };
    for field in ["students", "sheet", "carry_over"] {
        assert_eq!(value(&needs, field), value(&prep, field), "{field}");
    }
    assert_eq!(value(&prep, "sheet"), "9x12cm");
    let number = |page, field| value(page, field).parse::<u32>().expect("a number");
    assert_eq!(number(&prep, "sheets_each"), number(&needs, "sheets_each") + number(&needs, "prints_each"));
    // the trays for 8 × 10 in hold a litre
    assert_eq!(value(&prep, "tray_l"), "1");
}

#[tokio::test]
async fn testing_and_printing_take_their_minutes_and_distilled_water_is_bought() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/stockroom/usual", &[]).await;
    reads_the_bottles(&app).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let shelf = store::stock::products::list(&mut conn).await.expect("products");
    let developer = shelf
        .iter()
        .find(|product| product.kind == ProductKind::Developer && product.times.film_ms.is_none())
        .expect("stocked")
        .clone();
    drop(conn);
    app.write(move |tx| {
        Box::pin(async move {
            let asks = Product { distilled_water: true, ..developer };
            store::stock::products::update(tx, &asks).await?;
            Ok(String::new())
        })
    })
    .await;
    let query =
        "?students=12&sheets_each=1&prints_each=1&places=4&testing=25&print_exposure=3.5&develop=2&stop=0.5&fix=4";
    let page = instructor.get(&format!("{}{query}&sheet=4x5in", path(&app).await)).await;
    let hours = page.texts("#timetable ~ div tbody tr");
    assert!(hours.iter().any(|row| row.contains("25 min") && row.contains("test the cameras for light")), "{hours:?}");
    // 12 prints × (3.5 + 6.5) min at four places
    assert!(hours.iter().any(|row| row.contains("30 min") && row.contains("12 contact prints")), "{hours:?}");
    // one filling of a litre at 1+9
    let buy = page.texts("#buy ~ div tbody tr");
    assert!(buy.iter().any(|row| row.contains("Distilled water") && row.contains("900 mL")), "{buy:?}");
}
