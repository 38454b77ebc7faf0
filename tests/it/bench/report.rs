//! A report is written, handed in, taken back, until it is marked.

use axum::http::StatusCode;
use shimlight::store;

use super::sheets::{but, id_of, sheet_in_the_sun, version_of, with_box};
use crate::app::{Client, TestApp};

async fn path(app: &TestApp) -> String {
    format!("/bench/report/{}", app.the_evening().await.session)
}

/// Marks a comment for this student straight in the database: the marks pages have their own stories.
async fn marked(app: &TestApp, student: &Client) {
    let (session, student) = (app.the_evening().await.session, student.student.expect("a student"));
    let by: shimlight::domain::ids::PersonId = student.into();
    let at = app.state.now();
    app.write(move |tx| {
        Box::pin(async move {
            sqlx::query(
                "INSERT INTO mark_sheet (lab_session_id, student_id, comment, marked_by, marked_at)
                 VALUES (?, ?, 'Well seen.', ?, ?)",
            )
            .bind(session)
            .bind(student)
            .bind(by)
            .bind(at)
            .execute(tx)
            .await?;
            Ok(String::new())
        })
    })
    .await;
}

#[tokio::test]
async fn a_report_shows_its_task_and_the_students_own_figures() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "too pale")).await;
    let page = student.get("/bench/report").await;
    assert_eq!(page.text("h1"), "Report on “First light”");
    assert!(page.text("section.sheet").contains("What did your second sheet teach you?"));
    assert_eq!(
        page.texts("table tbody td"),
        ["f/256", "full sun, distinct shadows; sun behind the camera", "33 s", "33 s", "too pale"]
    );
}

#[tokio::test]
async fn a_report_is_saved_handed_in_and_taken_back() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let path = path(&app).await;
    let page = student.saves(&path, &[("act", "save"), ("body", "First line.\r\nSecond line <b>.")]).await;
    assert_eq!(page.text("span.tag"), "draft");
    assert_eq!(page.text("textarea"), "First line. Second line <b>.");
    assert!(page.text("p.saved").contains("report saved as a draft"));
    let version = version_of(&page, path.rsplit('-').next().expect("an id"));
    let page = student.saves(&path, &[("act", "submit"), ("body", "It was too pale."), ("version", &version)]).await;
    assert_eq!(page.text("span.tag"), "handed in");
    assert_eq!(page.attribute("textarea", "name"), None);
    // in another window it is still being written
    let late = student.post(&path, &[("act", "save"), ("body", "More."), ("version", &version)]).await;
    assert_eq!(late.status, StatusCode::CONFLICT);
    assert!(late.texts("table td").contains(&"More.".to_owned()));

    let version = version_of(&page, "withdraw");
    let page = student.saves(&format!("{path}/withdraw"), &[("version", &version)]).await;
    assert_eq!(page.text("span.tag"), "draft");
    assert_eq!(page.text("textarea"), "It was too pale.");
}

#[tokio::test]
async fn once_marks_are_given_a_report_stays_as_it_is() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let path = path(&app).await;
    student.saves(&path, &[("act", "submit"), ("body", "It was too pale.")]).await;
    marked(&app, &student).await;
    let page = student.get(&path).await;
    assert_eq!(page.attribute("form[action$=withdraw]", "action"), None);
    let answer = student.post(&format!("{path}/withdraw"), &[("version", "1")]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text("main").contains("marks were given"), "{}", answer.text("main"));
    let mut conn = app.state.store.read().await.expect("a reader");
    let session = app.the_evening().await.session;
    let stored =
        store::marking::reports::find(&mut conn, session, student.student.expect("a student")).await.expect("read");
    assert!(stored.expect("a report").state.is_submitted());
}

#[tokio::test]
async fn once_marks_are_given_sheets_stand_as_they_are_too() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    let sheet = student.saves("/bench/exposures", &sheet_in_the_sun("33", "")).await;
    let sheet = format!("/bench/exposures/{}", id_of(&sheet));
    marked(&app, &student).await;
    let page = student.get(&sheet).await;
    assert!(page.text("p.note").contains("Marks were given"), "{}", page.text("main"));
    assert_eq!(page.attribute("form[action$=judge]", "action"), None);
    let answer = student.post(&format!("{sheet}/judge"), &[("version", "1"), ("verdict", "right")]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text("main").contains("marks were given"), "{}", answer.text("main"));
    let fields = but(sheet_in_the_sun("40", "right"), &[("version", "1")]);
    let answer = student.post(&format!("{sheet}/correct"), &fields).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text("main").contains("marks were given"), "{}", answer.text("main"));
}

#[tokio::test]
async fn an_empty_report_is_not_handed_in_and_an_endless_one_not_taken() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let path = path(&app).await;
    let empty = student.post(&path, &[("act", "submit"), ("body", "  ")]).await;
    assert_eq!(empty.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(empty.error_beside("body").contains("write something"));
    let endless = student.post(&path, &[("act", "save"), ("body", &"a".repeat(40_001))]).await;
    assert_eq!(endless.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(endless.error_beside("body").contains("must have at most 40000 characters"));
    assert_eq!(endless.text("textarea").len(), 40_001);
}

#[tokio::test]
async fn another_sections_session_is_as_good_as_none() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let path = path(&app).await;
    let elsewhere: shimlight::domain::ids::SectionId = app.state.mint();
    let (site, at) = (app.the_evening().await.site, app.state.now());
    let section = shimlight::domain::people::section::Section {
        id: elsewhere,
        site,
        name: "Group 3".to_owned(),
        door_code: "MOLE3".to_owned(),
        walk_ins: false,
        version: 1,
    };
    app.write(move |tx| {
        Box::pin(async move {
            store::people::sections::insert(tx, &section, at).await?;
            Ok(String::new())
        })
    })
    .await;
    let stranger = app.student(elsewhere, "07", "Lior Fenn").await;
    assert!(stranger.get("/bench/report").await.text("p.empty").contains("No session has been opened"));
    assert_eq!(stranger.get(&path).await.status, StatusCode::NOT_FOUND);
    assert_eq!(stranger.post(&path, &[("body", "x")]).await.status, StatusCode::NOT_FOUND);
    assert_eq!(student.get(&path).await.status, StatusCode::OK);
}

#[tokio::test]
async fn a_session_that_was_over_before_somebody_joined_asks_no_report_of_them() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let at = app.state.now();
    app.write(move |tx| {
        Box::pin(async move {
            let session = store::evening::lab_sessions::find(tx, evening.session).await?.expect("a session");
            let closed = session.state.close(at).expect("it was open");
            store::evening::lab_sessions::update_state(tx, evening.session, closed).await?;
            Ok(String::new())
        })
    })
    .await;
    app.on_roster(evening.section, "07", "Teodora Vask").await;
    app.state.world.clock.forward_minutes(60);
    let late = app.client();
    late.saves("/door", &[("door_code", "QUAY7"), ("roster_number", "07"), ("family_name", "Vask")]).await;
    assert!(late.get("/bench/report").await.text("p.empty").contains("nothing to report on"));
}
