//! A student sees their marks once they were given back, not before, and nobody else's.

use axum::http::StatusCode;

use crate::marking::{give_rubric, with_rubric};

#[tokio::test]
async fn marks_are_seen_once_given_back_and_not_before() {
    let (_, instructor, student, marking) = with_rubric().await;
    let vask = student.student.expect("a student");
    assert!(student.get("/bench/marks").await.text(".empty").starts_with("Nothing was given back to you yet."));
    let typed = [
        ("points", "Negative", "3.5"),
        ("comment", "Negative", "Sharp.\nMind the edges."),
        ("points", "Contact print", "3"),
        ("points", "Report", "0"),
        ("overall", "", "A good first evening."),
    ];
    marking.mark(&instructor, vask, &typed).await;
    let before = student.get("/bench/marks").await;
    assert!(before.texts("table").is_empty() && !before.body.contains("Sharp."), "not given back yet");

    instructor.saves(&format!("{}/give-back", marking.sheet(vask)), &[]).await;
    let page = student.get("/bench/marks").await;
    assert_eq!(page.text("h2"), "First light, 20 Mar 2026");
    assert_eq!(page.text(".reading"), "Total 6.5 of 10, 65 %");
    assert_eq!(page.texts("tbody th"), ["Negative", "Contact print", "Report"]);
    assert_eq!(page.texts("tbody td"), ["3.5 of 4", "", "Sharp.Mind the edges.", "3 of 3", "", "", "0 of 3", "", ""]);
    assert!(page.text("main").contains("A good first evening."));

    instructor.saves(&format!("{}/take-back", marking.sheet(vask)), &[]).await;
    assert!(student.get("/bench/marks").await.texts("table").is_empty());
}

#[tokio::test]
async fn what_is_changed_after_giving_back_is_shown_to_the_student() {
    let (app, instructor, student, marking) = with_rubric().await;
    let vask = student.student.expect("a student");
    marking.mark(&instructor, vask, &[("points", "Negative", "3")]).await;
    instructor.saves(&format!("{}/give-back", marking.sheet(vask)), &[]).await;
    assert!(student.get("/bench/marks").await.texts("h3").is_empty(), "nothing was changed yet");

    app.state.world.clock.forward_minutes(10);
    marking.mark(&instructor, vask, &[("points", "Negative", "4"), ("comment", "Negative", "On a second look.")]).await;
    instructor.saves(&format!("{}/take-back", marking.sheet(vask)), &[]).await;
    marking.mark(&instructor, vask, &[("points", "Negative", "")]).await;
    instructor.saves(&format!("{}/give-back", marking.sheet(vask)), &[]).await;
    let page = student.get("/bench/marks").await;
    assert_eq!(
        page.texts("main li"),
        [
            "20 Mar 2026, 12:10: Negative, from 3 to 4; comment reworded",
            "20 Mar 2026, 12:10: Negative, from 4 to no points"
        ]
    );
}

#[tokio::test]
async fn a_student_sees_nobody_elses_marks() {
    let (app, instructor, student, marking) = with_rubric().await;
    let other = app.student(app.the_evening().await.section, "08", "Ola Brandt").await;
    let vask = student.student.expect("a student");
    marking.mark(&instructor, vask, &[("points", "Negative", "3"), ("overall", "", "For Teodora.")]).await;
    instructor.saves(&format!("{}/give-back", marking.sheet(vask)), &[]).await;
    let page = other.get("/bench/marks").await;
    assert!(page.texts("table").is_empty() && !page.body.contains("For Teodora."));
    assert_eq!(other.get(&marking.sheet(vask)).await.status, StatusCode::FORBIDDEN);
    assert_eq!(other.get(&marking.table()).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn when_the_rubric_is_changed_afterwards_the_student_is_told() {
    let (app, instructor, student, marking) = with_rubric().await;
    let vask = student.student.expect("a student");
    marking.mark(&instructor, vask, &[("points", "Negative", "3")]).await;
    instructor.saves(&format!("{}/give-back", marking.sheet(vask)), &[]).await;
    give_rubric(&app, [("Something else", 1_000), ("Another", 1_000), ("A third", 1_000)]).await;
    let page = student.get("/bench/marks").await;
    assert_eq!(page.text(".reading"), "Total – of 3");
    assert!(page.text("section").contains("Ask your instructor."));
    let table = instructor.get(&marking.table()).await;
    assert!(table.text("main").contains("1 mark was given in this session under another rubric"));
}
