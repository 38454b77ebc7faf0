//! `/front/stockroom`: the usual stock, cards of one's own, figures that stay exact.

use axum::http::StatusCode;
use shimlight::{domain::people::actor::Role, store};

use crate::app::TestApp;

const PAPER: [(&str, &str); 11] = [
    ("kind", "paper"),
    ("name", "Old stock, grade 3"),
    ("exposure_index", "3,5"),
    ("reciprocity", "1.1"),
    ("threshold", "1"),
    ("silver", "0.969"),
    ("silver_low", "0.35"),
    ("silver_high", "1.61"),
    ("silver_source", "box"),
    ("carry_over", "35"),
    ("remark", ""),
];

const FIXER: [(&str, &str); 10] = [
    ("kind", "fixer"),
    ("name", "Rapid fixer from the cupboard"),
    ("parts", "1+4"),
    ("distilled_water", "yes"),
    ("capacity", "2.06"),
    ("tray_life", "168"),
    ("silver_limit", "2"),
    ("hazards", "sharp smell"),
    ("data_sheet", "red folder"),
    ("figures_from", "bottle"),
];

fn with<'a, const N: usize>(base: [(&'a str, &'a str); N], changes: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut fields: Vec<_> = base.into_iter().filter(|(name, _)| changes.iter().all(|(new, _)| new != name)).collect();
    fields.extend_from_slice(changes);
    fields
}

#[tokio::test]
async fn the_usual_stock_says_where_every_figure_comes_from_and_is_stocked_once() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let page = instructor.get("/front/stockroom").await;
    assert!(page.text("section p").contains("Rapid fixer"), "{}", page.text("section p"));
    let stocked = instructor.saves("/front/stockroom/usual", &[]).await;
    let rows = stocked.texts("tbody th");
    for name in ["Resin-coated paper", "Fibre-based paper", "Film, ISO 100", "Paper developer, liquid", "Rapid fixer"] {
        assert!(rows.contains(&name.to_owned()), "{name}: {rows:?}");
    }
    assert!(stocked.text("main").contains("from memory, unverified"));
    assert!(!stocked.texts("h2").contains(&"The usual stock".to_owned()), "nothing is left to add");

    instructor.saves("/front/stockroom/usual", &[]).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    assert_eq!(store::stock::products::list(&mut conn).await.expect("products").len(), 4);
    assert_eq!(store::stock::papers::list(&mut conn).await.expect("papers").len(), 4, "three and the evening's own");
    assert_eq!(
        store::baths::tray_lines::list(&mut conn).await.expect("trays").len(),
        1,
        "the evening's own are enough"
    );
}

#[tokio::test]
async fn a_paper_is_kept_in_whole_numbers_and_shown_as_it_was_typed() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/stockroom/papers", &PAPER).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let papers = store::stock::papers::list(&mut conn).await.expect("papers");
    let paper = papers.iter().find(|paper| paper.name == "Old stock, grade 3").expect("stocked");
    assert_eq!((paper.exposure_index_milli, paper.reciprocity_milli), (3_500, 1_100));
    assert_eq!(
        (paper.silver_low_ug_per_m2, paper.silver_ug_per_m2, paper.silver_high_ug_per_m2),
        (350_000, 969_000, 1_610_000)
    );
    assert_eq!(paper.carry_over_ul_per_m2, 35_000);
    let edit = instructor.get(&format!("/front/stockroom/papers/{}", paper.id)).await;
    assert_eq!(edit.attribute("[name=exposure_index]", "value").as_deref(), Some("3.5"));
    assert_eq!(edit.attribute("[name=silver]", "value").as_deref(), Some("0.969"));
}

#[tokio::test]
async fn figures_that_cannot_be_are_refused_each_beside_its_field() {
    let (_app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let changes =
        [("exposure_index", "0"), ("reciprocity", "0.9"), ("silver", "2"), ("carry_over", "a drop"), ("name", "")];
    let refused = instructor.post("/front/stockroom/papers", &with(PAPER, &changes)).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.error_beside("exposure_index"), "must be a number from 0.01 to 100000");
    let neither = instructor.post("/front/stockroom/papers", &[("exposure_index", ""), ("iso_speed", "")]).await;
    assert_eq!(neither.error_beside("exposure_index"), "give an EI or an ISO paper speed");
    assert_eq!(neither.text("label[for=exposure_index]"), "Exposure index (EI) in daylight (or an ISO paper speed)");
    assert_eq!(refused.error_beside("reciprocity"), "must be a number from 1 to 2");
    assert_eq!(refused.error_beside("silver"), "the best estimate must lie between the lowest and the highest");
    assert_eq!(refused.error_beside("carry_over"), "must be a number from 0 to 2000");
    assert_eq!(refused.error_beside("name"), "must not be empty");
    assert_eq!(refused.attribute("[name=carry_over]", "value").as_deref(), Some("a drop"));
}

#[tokio::test]
async fn a_product_is_read_off_its_bottle() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/stockroom/products", &FIXER).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let fixer = store::stock::products::list(&mut conn).await.expect("products").pop().expect("stocked");
    assert_eq!((fixer.parts_concentrate, fixer.parts_water, fixer.distilled_water), (1, 4, true));
    assert_eq!(fixer.capacity_mm2_per_l, Some(2_060_000));
    assert_eq!(fixer.tray_life_ms, Some(168 * 3_600_000));
    assert_eq!(fixer.silver_limit_ug_per_l, Some(2_000_000));

    let bad = with(FIXER, &[("parts", "1:4"), ("kind", "stop bath"), ("capacity", "0"), ("tray_life", "soon")]);
    let refused = instructor.post("/front/stockroom/products", &bad).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.error_beside("parts").contains("1+9"));
    assert!(refused.error_beside("silver_limit").starts_with("only a fixer"));
    assert_eq!(refused.error_beside("capacity"), "must be a number from 0.001 to 1000");
    assert_eq!(refused.error_beside("tray_life"), "must be a number from 0.001 to 100000");
}

#[tokio::test]
async fn a_product_edited_from_a_stale_page_shows_both_versions() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/stockroom/products", &FIXER).await;
    let id =
        store::stock::products::list(&mut app.state.store.read().await.expect("a reader")).await.expect("products")[0]
            .id;
    let path = format!("/front/stockroom/products/{id}");
    instructor.saves(&path, &with(FIXER, &[("capacity", "1.03"), ("version", "1")])).await;
    let stale = instructor.post(&path, &with(FIXER, &[("capacity", "0.516"), ("version", "1")])).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    assert_eq!(stale.texts("tr.differs td"), ["0.516 m²/L", "1.03 m²/L"]);
    assert_eq!(stale.attribute("a.go", "href"), Some(path));
}

#[tokio::test]
async fn what_is_put_away_is_no_longer_offered_and_can_be_taken_out_again() {
    let (app, _anon, _instructor, _student) = TestApp::with_open_session().await;
    let assistant = app.staff(Role::Assistant, "Odo Lind").await;
    let evening = app.the_evening().await;
    let shelf = assistant.saves(&format!("/front/stockroom/papers/{}/put-away", evening.paper), &[]).await;
    assert!(!shelf.texts("tbody th").contains(&"Resin-coated paper, grade 2".to_owned()));
    assert!(shelf.texts("li").iter().any(|item| item.starts_with("Resin-coated paper, grade 2")));
    let shelf = assistant.saves(&format!("/front/stockroom/papers/{}/take-out", evening.paper), &[]).await;
    assert!(shelf.texts("tbody th").contains(&"Resin-coated paper, grade 2".to_owned()));
}

#[tokio::test]
async fn trays_have_names_of_their_own() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let twice = instructor.post("/front/stockroom/tray-lines", &[("tray_line_name", "By the sink")]).await;
    assert_eq!(twice.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(twice.error_beside("tray_line_name").contains("already"), "{}", twice.text("main"));
    instructor.saves("/front/stockroom/tray-lines", &[("tray_line_name", "By the window")]).await;
    let evening = app.the_evening().await;
    let shelf = instructor.saves(&format!("/front/stockroom/tray-lines/{}/put-away", evening.tray_line), &[]).await;
    assert!(shelf.text("main").contains("Take out again"));
    assert!(shelf.texts("li").iter().any(|item| item.starts_with("By the window")));
}

#[tokio::test]
async fn without_a_site_the_stockroom_says_what_comes_first() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    let page = instructor.get("/front/stockroom").await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(page.attribute("a.go", "href").as_deref(), Some("/front/site"));
}

#[tokio::test]
async fn a_bottle_says_times_shelf_life_and_how_much_concentrate_is_left() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let changes = [
        ("rc_capacity", "4.13"),
        ("bottle_life", "180"),
        ("time_rc", "30"),
        ("time_fibre", "60"),
        ("at", "68 F"),
        ("on_shelf", "2.5 L"),
    ];
    let shelf = instructor.saves("/front/stockroom/products", &with(FIXER, &changes)).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let fixer = store::stock::products::list(&mut conn).await.expect("products").pop().expect("stocked");
    assert_eq!(fixer.rc_capacity_mm2_per_l, Some(4_130_000));
    assert_eq!(fixer.bottle_life_ms, Some(180 * 86_400_000));
    assert_eq!((fixer.times.rc_ms, fixer.times.fibre_ms, fixer.times.film_ms), (Some(30_000), Some(60_000), None));
    assert_eq!((fixer.times.at_milli_c, fixer.times.factor_per_10c_milli), (Some(20_000), 2_400));
    assert_eq!(fixer.on_shelf_ul, Some(2_500_000));
    let said = shelf.text("main");
    assert!(said.contains("resin-coated 30 s, fibre 1 min, at 20 °C"), "{said}");
    assert!(said.contains("red folder") && said.contains("sharp smell"), "{said}");
    let edit = instructor.get(&format!("/front/stockroom/products/{}", fixer.id)).await;
    assert_eq!(edit.attribute("[name=bottle_life]", "value").as_deref(), Some("180"));

    let bad = with(FIXER, &[("at", "lukewarm"), ("factor", "0.5"), ("on_shelf", "a bottle"), ("time_rc", "0")]);
    let refused = instructor.post("/front/stockroom/products", &bad).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    for field in ["at", "factor", "on_shelf", "time_rc"] {
        assert!(!refused.error_beside(field).is_empty(), "{field}");
    }
    // a time for film without its temperature would be applied to any temperature
    let refused = instructor.post("/front/stockroom/products", &with(FIXER, &[("time_film", "300")])).await;
    assert!(refused.error_beside("at").contains("film"), "{}", refused.text("main"));
}

#[tokio::test]
async fn the_limit_that_is_reached_first_is_named_for_each_paper() {
    let (_app, _anon, instructor, _student) = TestApp::with_open_session().await;
    instructor.saves("/front/stockroom/papers", &with(PAPER, &[("base", "resin-coated")])).await;
    // 80 sheets of resin-coated paper a litre, and a silver limit of 2 g/L
    let shelf = instructor.saves("/front/stockroom/products", &with(FIXER, &[("rc_capacity", "4.13")])).await;
    let said = shelf.text("main");
    assert!(
        said.contains(
            "Old stock, grade 3: the silver limit binds: it is reached after 2.06 m²/L (40 sheets of 8 × 10 in)"
        ),
        "{said}"
    );
}

#[tokio::test]
async fn sizes_on_the_shelf_are_kept_with_how_many_sheets_there_are() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let sized = with(PAPER, &[("sizes", "4x5in 120\n9 x 12 cm"), ("base", "fibre")]);
    let shelf = instructor.saves("/front/stockroom/papers", &sized).await;
    assert!(shelf.text("main").contains("4 × 5 in (120 sheets), 9 × 12 cm"), "{}", shelf.text("main"));
    assert!(shelf.text("main").contains("paper, fibre-based"), "{}", shelf.text("main"));
    let mut conn = app.state.store.read().await.expect("a reader");
    let papers = store::stock::papers::list(&mut conn).await.expect("papers");
    let id = papers.iter().find(|paper| paper.name == "Old stock, grade 3").expect("stocked").id;
    let edit = instructor.get(&format!("/front/stockroom/papers/{id}")).await;
    assert_eq!(edit.text("[name=sizes]").split_whitespace().collect::<Vec<_>>(), ["4x5in", "120", "9x12cm"]);
    let refused = instructor.post("/front/stockroom/papers", &with(PAPER, &[("sizes", "a box of postcards")])).await;
    assert!(refused.error_beside("sizes").contains("a box of postcards"), "{}", refused.text("main"));
}

#[tokio::test]
async fn a_tray_line_gets_another_name_and_its_places_and_trays_say_what_they_hold() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let path = format!("/front/stockroom/tray-lines/{}", evening.tray_line);
    let version = instructor.get(&path).await.attribute("[name=version]", "value").expect("a version");
    let fields = [("tray_line_name", "By the north sink"), ("places", "5"), ("version", version.as_str())];
    let shelf = instructor.saves(&path, &fields).await;
    assert!(shelf.text("main").contains("By the north sink, 5 at a time"), "{}", shelf.text("main"));
    let again = instructor.post(&path, &[("tray_line_name", "By the door"), ("version", &version)]).await;
    assert_eq!(again.status, StatusCode::CONFLICT);
    let refused = instructor.post(&path, &[("tray_line_name", ""), ("places", "none"), ("version", "2")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(!refused.error_beside("places").is_empty() && !refused.error_beside("tray_line_name").is_empty());

    let trays = [("trays_name", "Trays for 5 × 7 in"), ("holds", "0.5 L"), ("count", "4"), ("source", "measured")];
    let shelf = instructor.saves("/front/stockroom/trays", &trays).await;
    assert!(shelf.texts("tr th").contains(&"Trays for 5 × 7 in".to_owned()), "{:?}", shelf.texts("tr th"));
    assert!(shelf.texts("td").contains(&"500 mL".to_owned()), "{:?}", shelf.texts("td"));
}
