//! The site's waste customs, its months, and the example of federal rules.

use axum::http::StatusCode;
use shimlight::{domain::people::actor::Role, store};

use crate::app::TestApp;

#[tokio::test]
async fn customs_are_the_instructors_to_enter_and_say_who_asks_for_them() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let page = instructor.get("/front/site/waste").await;
    assert!(page.text("dl.facts").contains("not entered: ask your safety office"), "{}", page.text("dl.facts"));
    let bare = instructor.post("/front/site/waste", &[("look_every", "7"), ("keep_years", "3")]).await;
    assert_eq!(bare.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(
        !bare.error_beside("look_source").is_empty() && !bare.error_beside("keep_source").is_empty(),
        "{}",
        bare.text("main")
    );
    let fields = [
        ("look_every", "7"),
        ("look_source", "safety office"),
        ("keep_years", "3"),
        ("keep_source", "letter of 4 May"),
        ("next_removal", "2026-05-04"),
        ("version", "0"),
    ];
    let page = instructor.saves("/front/site/waste", &fields).await;
    let said = page.text("dl.facts");
    assert!(
        said.contains("7 days (safety office)")
            && said.contains("3 years (letter of 4 May)")
            && said.contains("4 May 2026"),
        "{said}"
    );
    let stale = instructor.post("/front/site/waste", &fields).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    let assistant = app.staff(Role::Assistant, "Odo Lind").await;
    assert_eq!(assistant.post("/front/site/waste", &fields).await.status, StatusCode::FORBIDDEN);
    assert!(assistant.get("/front/waste").await.text("main").contains("The carrier comes next on 4 May 2026"));
}

/// 40 CFR 262.13, Table 1.
#[tokio::test]
async fn a_category_comes_only_from_what_the_whole_site_generates() {
    let (_app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let page = instructor.get("/front/site/waste").await;
    assert!(page.text("main").contains("No month entered: no category."), "{}", page.text("main"));
    let month =
        |kg: &'static str| [("month", "2026-02"), ("nonacute", kg), ("acute", "0"), ("source", "safety office")];
    let page = instructor.saves("/front/site/waste/months", &month("100")).await;
    assert!(page.text("#months ~ div table").contains("very small quantity generator"), "{}", page.text("main"));
    let page = instructor.saves("/front/site/waste/months", &month("100.5")).await;
    assert_eq!(page.texts("#months ~ div tbody tr").len(), 1);
    assert!(
        page.text("#months ~ div tbody").contains("small quantity generator")
            && !page.text("#months ~ div tbody").contains("very"),
        "{}",
        page.text("main")
    );
    assert!(page.text("main").contains("Verify with your state, your sewer authority and your safety office."));
    let bad = [("month", "February"), ("nonacute", "much"), ("acute", ""), ("source", "")];
    let refused = instructor.post("/front/site/waste/months", &bad).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    for field in ["month", "nonacute", "acute", "source"] {
        assert!(!refused.error_beside(field).is_empty(), "{field}");
    }
}

#[tokio::test]
async fn the_example_loads_only_what_was_ticked_and_says_where_each_figure_is_from() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let page = instructor.get("/front/site/example").await;
    let said = page.text("main");
    assert!(said.contains("Verify with your state, your sewer authority and your safety office."), "{said}");
    assert!(!said.contains("drain"), "{said}");
    assert!(page.attribute("input[type=checkbox][checked]", "name").is_none(), "nothing is ticked for anybody");
    let unsure = instructor.post("/front/site/example", &[("small-180", "yes")]).await;
    assert_eq!(unsure.status, StatusCode::UNPROCESSABLE_ENTITY);
    let ticked = [
        ("kind", "small quantity"),
        ("satellite", "yes"),
        ("small-180", "yes"),
        ("silver-5", "yes"),
        ("keep-3", "yes"),
        ("verified", "yes"),
    ];
    let site = instructor.saves("/front/site/example", &ticked).await;
    let said = site.text("main");
    assert!(said.contains("gone within 180 days of the first drop"), "{said}");
    assert!(said.contains("what is past 208.2 L here, in all containers not moved, gone within 3 days"), "{said}");
    assert!(said.contains("40 CFR 262.16(b)") && said.contains("checked 25 November 2026"), "{said}");
    assert!(said.contains("5 mg/L (example: 40 CFR 261.24(a), Table 1"), "{said}");
    // loaded again, nothing counts down twice
    instructor.saves("/front/site/example", &ticked).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    assert_eq!(store::site::site_rules::list(&mut conn).await.expect("rules").len(), 2);
    let site = store::site::sites::find(&mut conn).await.expect("read").expect("set up").id;
    assert_eq!(store::site::site_waste::find(&mut conn, site).await.expect("read").keep_years, Some(3));
    let waste = instructor.get("/front/waste").await;
    assert!(waste.text("main").contains("0 mL of 208.2 L stand here"), "{}", waste.text("main"));
    let assistant = app.staff(Role::Assistant, "Odo Lind").await;
    assert_eq!(assistant.post("/front/site/example", &ticked).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn of_two_kinds_of_generator_a_site_is_one() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let page = instructor.get("/front/site/example").await;
    let said = page.text("#kind");
    assert!(said.contains("never both") && said.contains("academic laboratory that opted in"), "{said}");
    assert_eq!(page.attribute("#kind input[checked]", "value").as_deref(), Some(""), "nothing is chosen for anybody");
    let rules = async || {
        let mut conn = app.state.store.read().await.expect("a reader");
        store::site::site_rules::list(&mut conn).await.expect("rules").len()
    };
    // ticked without saying whose rules they are
    let unsaid = [("small-180", "yes"), ("verified", "yes")];
    let refused = instructor.post("/front/site/example", &unsaid).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text("#kind-error").contains("only one of the two has"), "{}", refused.text("main"));
    assert!(refused.attribute("[name=small-180][checked]", "name").is_some(), "what was ticked stays ticked");
    // one of each: the terms, and the titles of labels
    for both in [["small-180", "academic-12-months"], ["title", "title-academic"]] {
        let both = [("kind", "small quantity"), (both[0], "yes"), (both[1], "yes"), ("verified", "yes")];
        let refused = instructor.post("/front/site/example", &both).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
        let beside = refused.error_beside(both[2].0);
        assert!(beside.contains("belongs to the other rules"), "{beside}: {}", refused.text("main"));
        assert!(refused.error_beside(both[1].0).is_empty(), "{}", refused.text("main"));
    }
    assert_eq!(rules().await, 0, "nothing of it was loaded");

    let small = [("kind", "small quantity"), ("small-180", "yes"), ("verified", "yes")];
    let site = instructor.saves("/front/site/example", &small).await;
    // another day the other one: the first has to be ended before
    let academic = [("kind", "academic"), ("academic-12-months", "yes"), ("verified", "yes")];
    let refused = instructor.post("/front/site/example", &academic).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text("#kind-error").contains("gone within 180 days of the first drop"), "{}", refused.text("main"));
    assert_eq!(rules().await, 1);
    let end = site.attribute("td form", "action").expect("a button");
    instructor.saves(&end, &[]).await;
    let site = instructor.saves("/front/site/example", &academic).await;
    assert_eq!(site.texts("tbody th"), ["gone within 12 months of the first drop"]);
}

#[tokio::test]
async fn a_rule_may_count_from_a_volume() {
    let (_app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let rule = [("clock", "past volume"), ("span", ""), ("volume", "200 L"), ("source", "fire code")];
    let site = instructor.saves("/front/site/rules", &rule).await;
    assert!(
        site.text("main").contains("never more than 200 L here, in all containers not moved"),
        "{}",
        site.text("main")
    );
    let mixed = [("clock", "full"), ("span", "10"), ("unit", "days"), ("volume", "200 L"), ("source", "x")];
    assert!(!instructor.post("/front/site/rules", &mixed).await.error_beside("volume").is_empty());
    let none = [("clock", "past volume"), ("span", "3"), ("unit", "days"), ("volume", ""), ("source", "x")];
    assert!(!instructor.post("/front/site/rules", &none).await.error_beside("volume").is_empty());
}

#[tokio::test]
async fn an_own_figure_gives_way_to_the_example_only_when_that_was_ticked() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let own = [("keep_years", "5"), ("keep_source", "letter of 4 May"), ("version", "0")];
    instructor.saves("/front/site/waste", &own).await;
    let page = instructor.get("/front/site/example").await;
    assert!(page.text(".beneath").contains("5 years (letter of 4 May)"), "{}", page.text("main"));
    let ticked = [("keep-3", "yes"), ("turnover-75", "yes"), ("verified", "yes")];
    let refused = instructor.post("/front/site/example", &ticked).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.error_beside("replace-keep-3").contains("5 years (letter of 4 May)"), "{}", refused.text("main"));
    let waste = async || {
        let mut conn = app.state.store.read().await.expect("a reader");
        let site = store::site::sites::find(&mut conn).await.expect("read").expect("set up").id;
        store::site::site_waste::find(&mut conn, site).await.expect("read")
    };
    let kept = waste().await;
    assert_eq!((kept.keep_years, kept.turnover_percent), (Some(5), None), "nothing of it was loaded");
    let agreed: Vec<_> = ticked.into_iter().chain([("replace-keep-3", "yes")]).collect();
    instructor.saves("/front/site/example", &agreed).await;
    let loaded = waste().await;
    assert_eq!((loaded.keep_years, loaded.turnover_percent), (Some(3), Some(75)));
    assert!(loaded.turnover_source.contains("40 CFR 261.1(c)(8)"), "{}", loaded.turnover_source);
}
