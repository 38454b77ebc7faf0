//! `/front/sections`: door codes, and who may change what.

use axum::http::StatusCode;
use shimlight::{domain::people::actor::Role, store};

use crate::app::TestApp;

#[tokio::test]
async fn a_section_is_made_with_the_code_that_was_proposed() {
    let (_app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let form = instructor.get("/front/sections/new").await;
    let code = form.attribute("[name=door_code]", "value").expect("a proposal");
    let page =
        instructor.saves("/front/sections", &[("name", "Light and shadow, group 3"), ("door_code", &code)]).await;
    assert_eq!(page.text("h1"), "Light and shadow, group 3");
    assert_eq!(page.text("dl.facts dd"), code);
    assert!(page.text("main").contains("Nobody on the roster yet"));
}

#[tokio::test]
async fn a_taken_door_code_is_refused_beside_its_field_with_a_free_one() {
    let (_app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let refused = instructor.post("/front/sections", &[("name", "Group 3"), ("door_code", "quay7")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let message = refused.error_beside("door_code");
    assert!(
        message.starts_with("QUAY7 is the code of “Light and shadow, group 2”: take another, such as "),
        "{message}"
    );
    assert_eq!(refused.attribute("[name=door_code]", "value").as_deref(), Some("quay7"), "what was typed is kept");
    assert_eq!(refused.attribute("[name=name]", "value").as_deref(), Some("Group 3"));

    let bad = instructor.post("/front/sections", &[("name", ""), ("door_code", "B-2")]).await;
    assert!(bad.error_beside("door_code").starts_with("must have from 4 to 12"));
    assert_eq!(bad.error_beside("name"), "must not be empty");
}

#[tokio::test]
async fn a_section_keeps_its_own_code_when_edited_and_a_stale_edit_shows_both_versions() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let path = format!("/front/sections/{}", app.the_evening().await.section);
    let edit = instructor.get(&format!("{path}/edit")).await;
    assert_eq!(edit.attribute("[name=door_code]", "value").as_deref(), Some("QUAY7"));
    let first = [("name", "Group 2"), ("door_code", "QUAY7"), ("walk_ins", "yes"), ("version", "1")];
    let page = instructor.saves(&path, &first).await;
    assert_eq!(page.texts("dl.facts dd"), ["QUAY7", "may take a seat"]);
    let second = [("name", "Group two"), ("door_code", "QUAY7"), ("version", "1")];
    let stale = instructor.post(&path, &second).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    assert_eq!(stale.texts("tr.differs td"), ["Group two", "Group 2", "may not take a seat", "may take a seat"]);
}

#[tokio::test]
async fn one_student_is_added_edited_struck_off_and_put_back() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let section = app.the_evening().await.section;
    let roster = format!("/front/sections/{section}/roster");
    let page = instructor.saves(&roster, &[("roster_number", "11"), ("name", "Mira नायर"), ("email", "")]).await;
    assert!(page.texts("tbody th").contains(&"Mira नायर".to_owned()));

    let taken = instructor.post(&roster, &[("roster_number", "07"), ("name", "Other"), ("email", "nowhere")]).await;
    assert_eq!(taken.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(taken.error_beside("email"), "“nowhere” is not an e-mail address");
    let taken = instructor.post(&roster, &[("roster_number", "07"), ("name", "Other"), ("email", "")]).await;
    assert_eq!(taken.error_beside("roster_number"), "07 is on the roster already: Teodora Vask");
    assert_eq!(taken.attribute("[name=name]", "value").as_deref(), Some("Other"));

    let id = student.student.expect("a student");
    assert_eq!(student.get("/front").await.status, StatusCode::FORBIDDEN, "signed in, at the wrong bench");
    let off = instructor.saves(&format!("{roster}/{id}/strike-off"), &[]).await;
    assert!(!off.texts("tbody th").contains(&"Teodora Vask".to_owned()));
    assert_eq!(student.get("/front").await.status, StatusCode::SEE_OTHER, "their sign-in is over");
    let taken = instructor.post(&roster, &[("roster_number", "07"), ("name", "Other"), ("email", "")]).await;
    assert!(taken.error_beside("roster_number").contains("struck off"), "{}", taken.error_beside("roster_number"));

    let back = instructor.saves(&format!("{roster}/{id}/put-back"), &[]).await;
    assert!(back.texts("tbody th").contains(&"Teodora Vask".to_owned()));
    let edited = [("roster_number", "70"), ("name", "Teodora Vask-Lind"), ("email", "t@example.org"), ("version", "4")];
    let page = instructor.saves(&format!("{roster}/{id}"), &edited).await;
    assert!(page.texts("tbody th").contains(&"Teodora Vask-Lind".to_owned()));
    let stale = instructor.post(&format!("{roster}/{id}"), &edited).await;
    assert_eq!(stale.status, StatusCode::CONFLICT, "version 4 is gone");
}

#[tokio::test]
async fn a_student_is_only_reached_through_their_own_section() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    instructor.saves("/front/sections", &[("name", "Group 3"), ("door_code", "MALU47")]).await;
    let sections =
        store::people::sections::list(&mut app.state.store.read().await.expect("a reader")).await.expect("sections");
    let other = sections.iter().find(|section| section.door_code == "MALU47").expect("made").id;
    let path = format!("/front/sections/{other}/roster/{}", student.student.expect("a student"));
    assert_eq!(instructor.get(&path).await.status, StatusCode::NOT_FOUND);
    assert_eq!(instructor.post(&format!("{path}/strike-off"), &[]).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn an_assistant_sees_the_roster_and_cannot_change_it() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let assistant = app.staff(Role::Assistant, "Odo Lind").await;
    let section = app.the_evening().await.section;
    let path = format!("/front/sections/{section}");
    let page = assistant.get(&path).await;
    assert!(page.texts("tbody th").contains(&"Teodora Vask".to_owned()));
    assert!(page.texts("main form").is_empty(), "{:?}", page.texts("main form"));
    let id = student.student.expect("a student");
    for post in [
        "/front/sections".to_owned(),
        path.clone(),
        format!("{path}/roster"),
        format!("{path}/roster/preview"),
        format!("{path}/roster/import"),
        format!("{path}/roster/{id}"),
        format!("{path}/roster/{id}/strike-off"),
        format!("{path}/roster/{id}/put-back"),
    ] {
        assert_eq!(assistant.post(&post, &[]).await.status, StatusCode::FORBIDDEN, "{post}");
    }
    for get in ["/front/sections/new".to_owned(), format!("{path}/edit"), format!("{path}/roster/import")] {
        assert_eq!(assistant.get(&get).await.status, StatusCode::FORBIDDEN, "{get}");
    }
}

#[tokio::test]
async fn a_roster_stands_by_number_as_one_counts_and_says_so() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let section = app.the_evening().await.section;
    for (number, name) in [("12", "Ada Amsel"), ("9", "Zoe Brook"), ("101", "Bo Amsel")] {
        app.student(section, number, name).await;
    }
    let page = instructor.get(&format!("/front/sections/{section}")).await;
    assert_eq!(page.texts("tbody th"), ["Teodora Vask", "Zoe Brook", "Ada Amsel", "Bo Amsel"]);
    assert!(page.text("caption").ends_with("by roster number"), "{}", page.text("caption"));
}
