//! Lab sessions: planned, opened, closed, opened again; and the way there from a fresh install.

use axum::http::StatusCode;
use shimlight::{domain::people::actor::Role, store};

use crate::app::{Answer, TestApp};

fn plan<'a>(paper: &'a str, tray_line: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![
        ("title", "Second light"),
        ("held_on", "2026-03-27"),
        ("hole_constant", "1.9"),
        ("wavelength", "550"),
        ("paper", paper),
        ("tray_line", tray_line),
        ("rubric", ""),
        ("report_task", "What did the second sheet teach you?"),
    ]
}

fn with<'a>(mut fields: Vec<(&'a str, &'a str)>, changes: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    fields.retain(|(name, _)| changes.iter().all(|(new, _)| new != name));
    fields.extend_from_slice(changes);
    fields
}

fn next_step(page: &Answer) -> (String, String) {
    (page.text("nav.steps li[aria-current]"), page.attribute("nav.steps ~ p a.go", "href").unwrap_or_default())
}

#[tokio::test]
async fn a_fresh_install_is_led_from_the_site_to_the_open_session_without_a_dead_end() {
    let app = TestApp::new().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    let (step, site) = next_step(&instructor.get("/front").await);
    assert_eq!(step, "Site");

    let page = instructor.saves(&site, &[("name", "Quayside darkroom"), ("time_zone", "America/Denver")]).await;
    let (step, stockroom) = next_step(&page);
    assert_eq!(step, "Stockroom");
    assert_eq!(instructor.get(&stockroom).await.status, StatusCode::OK);

    let page = instructor.saves(&format!("{stockroom}/usual"), &[]).await;
    let (step, new_section) = next_step(&page);
    assert_eq!(step, "Section");

    let form = instructor.get(&new_section).await;
    let code = form.attribute("[name=door_code]", "value").expect("a proposal");
    let page = instructor.saves("/front/sections", &[("name", "Group 2"), ("door_code", &code)]).await;
    let (step, import) = next_step(&page);
    assert_eq!(step, "Roster");

    let preview = import.replace("/import", "/preview");
    let preview = instructor.post(&preview, &[("rows", "roster_number,name\n07,Teodora Vask\n08,Ilo Vask\n")]).await;
    let rows = preview.attribute("[name=rows]", "value").expect("the rows");
    let fingerprint = preview.attribute("[name=fingerprint]", "value").expect("a fingerprint");
    let page = instructor.saves(&import, &[("rows", &rows), ("fingerprint", &fingerprint)]).await;
    let (step, new_session) = next_step(&page);
    assert_eq!(step, "Session");

    let form = instructor.get(&new_session).await;
    assert_eq!(form.attribute("[name=hole_constant]", "value").as_deref(), Some("1.9"));
    assert_eq!(form.attribute("[name=wavelength]", "value").as_deref(), Some("550"));
    assert_eq!(form.attribute("[name=held_on]", "value").as_deref(), Some("2026-03-20"), "today at the site");
    let paper = form.attribute("[name=paper] option", "value").expect("a paper");
    let trays = form.attribute("[name=tray_line] option[selected]", "value").expect("the trays");
    let page = instructor.saves(&new_session.replace("/new", ""), &plan(&paper, &trays)).await;
    assert_eq!(page.text("h1"), "Second light");
    assert_eq!(page.text("nav.steps li[aria-current]"), "Cards and door");

    let open = page.attribute("form[action$='/open']", "action").expect("a button");
    let page = instructor.saves(&open, &[]).await;
    assert_eq!(page.text(".tag"), "open");
    assert!(page.texts("nav.steps").is_empty(), "nothing is left to set up");
    let home = instructor.get("/front").await;
    assert_eq!(home.text("section .tag"), "open");
}

#[tokio::test]
async fn a_date_of_another_year_is_asked_back_and_taken_when_it_is_right() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let (paper, trays) = (evening.paper.to_string(), evening.tray_line.to_string());
    let sessions = format!("/front/sections/{}/sessions", evening.section);
    let a_year_back = with(plan(&paper, &trays), &[("held_on", "2025-03-27")]);
    let asked = instructor.post(&sessions, &a_year_back).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(asked.error_beside("held_on"), "27 March 2025 is 358 days ago: is the year right?");
    assert_eq!(asked.attribute("[name=held_on]", "value").as_deref(), Some("2025-03-27"));
    assert_eq!(asked.text("label[for=held_on_sure]"), "Yes, that is the day");
    let ahead = instructor.post(&sessions, &with(plan(&paper, &trays), &[("held_on", "2027-05-27")])).await;
    assert_eq!(ahead.error_beside("held_on"), "27 May 2027 is in 433 days: is the year right?");
    // two months back and a year ahead are asked nothing
    for day in ["2026-01-19", "2027-04-24"] {
        let near = instructor.post(&sessions, &with(plan(&paper, &trays), &[("held_on", day)])).await;
        assert_eq!(near.status, StatusCode::SEE_OTHER, "{day}: {}", near.text("main"));
    }
    let page = instructor.saves(&sessions, &with(a_year_back.clone(), &[("held_on_sure", "yes")])).await;
    assert!(page.text("main").contains("27 March 2025"), "{}", page.text("main"));

    let edit = page.attribute("a[href$='/plan']", "href").expect("a link");
    let form = instructor.get(&edit).await;
    assert!(form.attribute("[name=held_on_sure]", "name").is_none(), "shown only once it is asked");
    let version = form.attribute("[name=version]", "value").expect("a version");
    let same = with(a_year_back, &[("title", "Long ago"), ("version", &version)]);
    assert_eq!(instructor.post(&edit, &same).await.status, StatusCode::SEE_OTHER, "the same day again");
    let version = instructor.get(&edit).await.attribute("[name=version]", "value").expect("a version");
    let other = with(same, &[("held_on", "2024-03-27"), ("version", &version)]);
    assert!(instructor.post(&edit, &other).await.error_beside("held_on").contains("is the year right?"));
}

#[tokio::test]
async fn a_session_is_planned_with_what_the_last_one_used() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let form = instructor.get(&format!("/front/sections/{}/sessions/new", evening.section)).await;
    let chosen = form.attribute("[name=paper] option[selected]", "value");
    assert_eq!(chosen, Some(evening.paper.to_string()));
    let (paper, trays) = (evening.paper.to_string(), evening.tray_line.to_string());
    let page = instructor.saves(&format!("/front/sections/{}/sessions", evening.section), &plan(&paper, &trays)).await;
    assert_eq!(page.text(".tag"), "planned");
    let facts = page.texts("dl.facts dd");
    assert!(facts.contains(&"d = C √(λ f′), C = 1.9, λ = 550 nm".to_owned()), "{facts:?}");
    assert!(facts.contains(&"Resin-coated paper, grade 2, EI 6".to_owned()), "{facts:?}");
}

#[tokio::test]
async fn a_plan_that_cannot_be_is_refused_field_by_field() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let gone = app.state.mint::<shimlight::domain::ids::RubricId>().to_string();
    let path = format!("/front/sections/{}/sessions", evening.section);
    let (paper, trays) = (evening.paper.to_string(), evening.tray_line.to_string());
    let changes =
        [("title", ""), ("held_on", "tomorrow"), ("hole_constant", "19"), ("wavelength", "5.5"), ("paper", "")];
    let refused = instructor.post(&path, &with(plan(&paper, &trays), &changes)).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.error_beside("title"), "must not be empty");
    assert!(refused.error_beside("held_on").starts_with("must be a date"));
    assert_eq!(refused.error_beside("hole_constant"), "must be a number from 0.5 to 3");
    assert_eq!(refused.error_beside("wavelength"), "must be a whole number from 300 to 1100");
    assert_eq!(refused.error_beside("paper"), "choose one of those offered");
    let kept = refused.attribute("[name=tray_line] option[selected]", "value");
    assert_eq!(kept, Some(trays.clone()), "the choices are kept");

    let refused = instructor.post(&path, &with(plan(&paper, &trays), &[("light", "infrared")])).await;
    assert_eq!(refused.text("[id=light-error]"), "choose one of those offered");

    let refused = instructor.post(&path, &with(plan(&paper, &trays), &[("rubric", &gone)])).await;
    assert_eq!(refused.error_beside("rubric"), "this rubric was discarded: choose another");
}

#[tokio::test]
async fn the_instructor_may_choose_the_paper_s_own_light() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "120"), ("width", "100"), ("height", "125")]).await;
    let path = format!("/front/sessions/{}/plan", evening.session);
    let form = instructor.get(&path).await;
    assert_eq!(form.attribute("[name=light][checked]", "value").as_deref(), Some("eye"));
    assert!(form.text("[id=light-hint]").contains("matters more than which constant"));
    let (paper, trays) = (evening.paper.to_string(), evening.tray_line.to_string());
    let version = form.attribute("[name=version]", "value").expect("a version");
    instructor.saves(&path, &with(plan(&paper, &trays), &[("light", "paper"), ("version", &version)])).await;
    assert_eq!(instructor.get(&path).await.attribute("[name=light][checked]", "value").as_deref(), Some("paper"));
    // 1.9 × √(0.00046 mm × 120 mm) = 0.446 mm
    let page = student.get("/bench/camera").await;
    assert_eq!(page.text("p.reading .value"), "0.446 mm");
    assert!(page.body.contains("already takes the paper’s own blue light"));
}

#[tokio::test]
async fn a_stale_plan_shows_both_versions() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let path = format!("/front/sessions/{}/plan", evening.session);
    let version = instructor.get(&path).await.attribute("[name=version]", "value").expect("a version");
    let (paper, trays) = (evening.paper.to_string(), evening.tray_line.to_string());
    let first = with(plan(&paper, &trays), &[("hole_constant", "1.41"), ("version", &version)]);
    instructor.saves(&path, &first).await;
    let second = with(plan(&paper, &trays), &[("title", "Third light"), ("version", &version)]);
    let stale = instructor.post(&path, &second).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    assert_eq!(
        stale.texts("tr.differs td"),
        ["Third light", "Second light", "d = C √(λ f′), C = 1.9, λ = 550 nm", "d = C √(λ f′), C = 1.41, λ = 550 nm"]
    );
    assert_eq!(stale.attribute("a.go", "href"), Some(path));
}

#[tokio::test]
async fn a_second_session_is_not_opened_beside_the_first_and_the_way_out_is_shown() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let (paper, trays) = (evening.paper.to_string(), evening.tray_line.to_string());
    let page = instructor.saves(&format!("/front/sections/{}/sessions", evening.section), &plan(&paper, &trays)).await;
    let open = page.attribute("form[action$='/open']", "action").expect("a button");
    let refused = instructor.post(&open, &[]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text(".wrong li").starts_with("“First light” is open in this section"), "{}", refused.text("main"));
    let first = format!("/front/sessions/{}", evening.session);
    assert_eq!(refused.attribute("a.go", "href"), Some(first.clone()));

    let closed = instructor.saves(&format!("{first}/close"), &[]).await;
    assert_eq!(closed.text(".tag"), "closed");
    assert_eq!(instructor.saves(&open, &[]).await.text(".tag"), "open");
    let refused = instructor.post(&open, &[]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.text(".wrong li"), "a session that is open cannot be opened");
}

#[tokio::test]
async fn a_closed_session_is_opened_again_and_remembers_when_it_began() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let path = format!("/front/sessions/{}", app.the_evening().await.session);
    app.state.world.clock.forward_minutes(150);
    let closed = instructor.saves(&format!("{path}/close"), &[]).await;
    assert!(closed.text("main").contains("from 20 Mar 2026, 12:00 to 20 Mar 2026, 14:30"), "{}", closed.text("main"));
    let open = instructor.saves(&format!("{path}/open"), &[]).await;
    assert!(open.text("main").contains("since 20 Mar 2026, 12:00"), "{}", open.text("main"));
}

#[tokio::test]
async fn an_assistant_opens_and_closes_the_lab_and_does_not_plan() {
    let (app, _anon, _instructor, _student) = TestApp::with_open_session().await;
    let assistant = app.staff(Role::Assistant, "Odo Lind").await;
    let evening = app.the_evening().await;
    let path = format!("/front/sessions/{}", evening.session);
    assert_eq!(assistant.saves(&format!("{path}/close"), &[]).await.text(".tag"), "closed");
    for refused in [format!("{path}/plan"), format!("/front/sections/{}/sessions", evening.section)] {
        assert_eq!(assistant.post(&refused, &[]).await.status, StatusCode::FORBIDDEN, "{refused}");
    }
}

#[tokio::test]
async fn a_session_left_open_overnight_is_brought_to_notice() {
    let (app, _anon, _instructor, _student) = TestApp::with_open_session().await;
    app.state.world.clock.forward_minutes(20 * 60);
    let instructor = app.staff(Role::Instructor, "Rosa Quarry").await;
    let home = instructor.get("/front").await;
    let notices = home.texts("section[aria-labelledby=attention] li");
    assert!(notices.iter().any(|notice| notice.contains("open since 20 Mar 2026, 12:00")), "{notices:?}");
}

#[tokio::test]
async fn planning_without_paper_leads_to_the_stockroom() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let paper = evening.paper;
    let at = app.state.now();
    app.write(move |tx| {
        Box::pin(async move {
            store::stock::papers::put_away(tx, paper, at).await?;
            Ok(String::new())
        })
    })
    .await;
    let form = instructor.get(&format!("/front/sections/{}/sessions/new", evening.section)).await;
    assert_eq!(form.attribute("main a.go", "href").as_deref(), Some("/front/stockroom"));
    let edit = instructor.get(&format!("/front/sessions/{}/plan", evening.session)).await;
    let offered = edit.texts("[name=paper] option");
    assert_eq!(offered, ["Resin-coated paper, grade 2 (paper, EI 6)"], "its own paper stays");
}
