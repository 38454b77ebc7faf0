//! `/front` and `/front/site`: what a fresh install shows, and what the site says of itself.

use axum::http::StatusCode;
use shimlight::domain::people::actor::Role;

use crate::app::TestApp;

const DENVER: [(&str, &str); 8] = [
    ("name", "Quayside darkroom"),
    ("place", "Room B2"),
    ("time_zone", "America/Denver"),
    ("emergency_line", ""),
    ("disposal_contact", ""),
    ("waste_title", ""),
    ("silver_limit", ""),
    ("silver_limit_source", ""),
];

fn with(changes: &[(&'static str, &'static str)]) -> Vec<(&'static str, &'static str)> {
    let mut fields: Vec<_> =
        DENVER.into_iter().filter(|(name, _)| changes.iter().all(|(new, _)| new != name)).collect();
    fields.extend_from_slice(changes);
    fields
}

#[tokio::test]
async fn a_fresh_install_leads_to_the_site_and_then_to_the_stockroom() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    let home = instructor.get("/front").await;
    assert_eq!(home.status, StatusCode::OK);
    assert_eq!(home.text("nav.steps li[aria-current]"), "Site");
    assert_eq!(home.attribute("a.go", "href").as_deref(), Some("/front/site"));

    let form = instructor.get("/front/site").await;
    assert_eq!(form.text("h1"), "Set up the site");

    let saved = instructor.saves("/front/site", &DENVER).await;
    assert_eq!(saved.text("h1"), "Quayside darkroom");
    assert_eq!(saved.attribute("a.go", "href").as_deref(), Some("/front/stockroom"));
    let facts = saved.texts("dl.facts dd");
    assert!(facts.contains(&"not entered: ask your safety office".to_owned()), "{facts:?}");
    assert!(saved.text("section p.empty").starts_with("No deadline entered"), "{:?}", saved.texts("p.empty"));
}

#[tokio::test]
async fn a_site_without_name_and_with_a_made_up_time_zone_is_refused_with_what_was_typed() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    let refused = instructor
        .post(
            "/front/site",
            &with(&[("name", " "), ("time_zone", "Atlantis/Lost"), ("silver_limit", "five"), ("place", "Room 9")]),
        )
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.error_beside("name"), "must not be empty");
    assert!(refused.error_beside("time_zone").contains("Atlantis/Lost"), "{}", refused.error_beside("time_zone"));
    assert_eq!(refused.error_beside("silver_limit"), "must be a number from 0.001 to 100000");
    assert_eq!(refused.attribute("[name=place]", "value").as_deref(), Some("Room 9"));
    assert_eq!(refused.attribute("[name=time_zone]", "value").as_deref(), Some("Atlantis/Lost"));
    assert_eq!(instructor.get("/front/site").await.text("h1"), "Set up the site", "nothing was stored");
}

#[tokio::test]
async fn a_longitude_on_the_other_side_of_the_world_is_asked_back_and_taken_when_it_is_right() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    let form = instructor.get("/front/site").await;
    assert!(form.attribute("[name=longitude_sure]", "name").is_none(), "shown only once it is asked");
    let place = with(&[("latitude", "48.25"), ("longitude", "101.75")]);
    let asked = instructor.post("/front/site", &place).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(asked.error_beside("longitude").starts_with("101.75° E is far from America/Denver"));
    assert_eq!(asked.attribute("[name=longitude]", "value").as_deref(), Some("101.75"));
    assert_eq!(asked.text("label[for=longitude_sure]"), "Yes, the longitude is right");
    assert_eq!(instructor.get("/front/site").await.text("h1"), "Set up the site", "nothing was stored");

    let page = instructor.saves("/front/site", &[place.clone(), vec![("longitude_sure", "yes")]].concat()).await;
    assert!(page.text("dl.facts").contains("101.75° E"), "{}", page.text("dl.facts"));
    // what is known to be right is not asked again
    let edited = [place, vec![("version", "1"), ("place", "Room B3")]].concat();
    let answer = instructor.post("/front/site", &edited).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let west = with(&[("latitude", "48.25"), ("longitude", "-101.75"), ("version", "2")]);
    assert_eq!(instructor.post("/front/site", &west).await.status, StatusCode::SEE_OTHER);
}

/// The page then says which zone it is.
#[tokio::test]
async fn a_time_zone_may_be_called_by_its_place_where_there_is_only_one() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    let both = instructor.post("/front/site", &with(&[("time_zone", "Louisville")])).await;
    let said = both.error_beside("time_zone");
    assert!(
        said.contains("America/Louisville or America/Kentucky") || said.contains("America/Kentucky/Louisville or"),
        "{said}"
    );
    let saved = instructor.saves("/front/site", &with(&[("time_zone", "new york")])).await;
    assert!(saved.texts("dl.facts dd").contains(&"America/New_York".to_owned()), "{:?}", saved.texts("dl.facts dd"));
}

#[tokio::test]
async fn a_silver_limit_needs_its_source() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    let refused = instructor.post("/front/site", &with(&[("silver_limit", "5")])).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.error_beside("silver_limit_source").starts_with("say where"), "{}", refused.text("main"));
    let saved = instructor
        .saves("/front/site", &with(&[("silver_limit", "0,5"), ("silver_limit_source", "letter of 3 May")]))
        .await;
    assert!(saved.texts("dl.facts dd").contains(&"0.5 mg/L (letter of 3 May)".to_owned()));
}

#[tokio::test]
async fn an_edit_from_a_stale_page_shows_both_versions() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    instructor.saves("/front/site", &DENVER).await;
    let edit = instructor.get("/front/site/edit").await;
    let version = edit.attribute("[name=version]", "value").expect("a version");
    let mut first = with(&[("name", "Quayside, first floor")]);
    first.push(("version", "1"));
    assert_eq!(version, "1");
    instructor.saves("/front/site", &first).await;

    let mut second = with(&[("name", "Quayside annexe"), ("place", "Room B2")]);
    second.push(("version", "1"));
    let stale = instructor.post("/front/site", &second).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    assert_eq!(stale.texts("tr.differs td"), ["Quayside annexe", "Quayside, first floor"]);
    assert_eq!(stale.attribute("a.go", "href").as_deref(), Some("/front/site"));
}

#[tokio::test]
async fn a_second_first_setting_up_is_refused_and_shows_what_is_there() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    instructor.saves("/front/site", &DENVER).await;
    let late = instructor.post("/front/site", &with(&[("name", "Other")])).await;
    assert_eq!(late.status, StatusCode::CONFLICT);
    assert_eq!(instructor.get("/front/site").await.text("h1"), "Quayside darkroom");
}

#[tokio::test]
async fn removal_rules_are_entered_with_their_source_and_ended() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    instructor.saves("/front/site", &DENVER).await;
    let refused = instructor
        .post("/front/site/rules", &[("span", "0"), ("unit", "fortnights"), ("clock", ""), ("source", "")])
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.texts("p.error").len(), 4, "{:?}", refused.texts("p.error"));

    let rule = [("span", "180"), ("unit", "days"), ("clock", "first drop"), ("source", "safety office, 2 March")];
    let saved = instructor.saves("/front/site/rules", &rule).await;
    assert_eq!(saved.text("tbody th"), "gone within 180 days of the first drop");
    assert_eq!(saved.text("tbody td"), "safety office, 2 March");

    let end = saved.attribute("td form", "action").expect("a button");
    let ended = instructor.saves(&end, &[]).await;
    assert_eq!(ended.texts("tbody th"), Vec::<String>::new());
    assert_eq!(instructor.post(&end, &[]).await.status, StatusCode::NOT_FOUND, "an ended rule is not ended twice");
}

#[tokio::test]
async fn an_assistant_reads_the_site_and_cannot_change_it() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    let assistant = app.staff(Role::Assistant, "Odo Lind").await;
    let nothing = assistant.get("/front/site").await;
    assert_eq!(nothing.text("h1"), "Nothing set up yet");
    assert!(nothing.text("main").contains("Next, by an instructor: Set up the site"), "{}", nothing.text("main"));
    assert!(nothing.texts("nav.steps a").is_empty(), "no way that ends at a closed door");
    instructor.saves("/front/site", &DENVER).await;
    let page = assistant.get("/front/site").await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.texts("main form").is_empty());
    for path in ["/front/site", "/front/site/rules"] {
        assert_eq!(assistant.post(path, &DENVER).await.status, StatusCode::FORBIDDEN, "{path}");
    }
    assert_eq!(assistant.get("/front/site/edit").await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn a_height_nobody_gave_is_not_shown_as_if_somebody_had() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    let place = [("latitude", "48.25"), ("longitude", "101.75 W")];
    let facts = async |height: &'static str, version: &'static str| {
        let fields = with(&[place[0], place[1], ("elevation", height), ("version", version)]);
        let saved = instructor.saves("/front/site", &fields).await;
        saved.texts("dl.facts dd").join("; ")
    };
    let none = facts("", "0").await;
    assert!(none.contains("height above the sea not given, or 0 (reckoned as sea level)"), "{none}");
    let given = facts("1210", "1").await;
    assert!(given.contains("1210 m above the sea") && !given.contains("not given"), "{given}");
}
