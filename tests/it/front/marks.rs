//! An assistant marks, an instructor gives back, two markers do not undo one another.

use axum::http::StatusCode;
use shimlight::{
    domain::{
        ids::{LabSessionId, StudentId},
        people::actor::Role,
    },
    store,
};

use crate::{
    app::TestApp,
    bench::sheets::{sheet_in_the_sun, with_box},
    marking::{give_rubric, send, with_rubric},
};

#[tokio::test]
async fn an_assistant_marks_cell_by_cell_and_the_table_adds_up() {
    let (app, instructor, student, marking) = with_rubric().await;
    let assistant = app.staff(Role::Assistant, "Bo Tarn").await;
    let vask = student.student.expect("a student");
    let answer = marking
        .mark(
            &assistant,
            vask,
            &[
                ("points", "Negative", "3,5"),
                ("comment", "Negative", "Sharp.\nEdges clean."),
                ("overall", "", "Go on."),
            ],
        )
        .await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let page = assistant.get(&answer.location()).await;
    assert_eq!(page.text("h1"), "Teodora Vask");
    assert_eq!(page.text(".saved"), "Saved 20 Mar 2026, 12:00, Bo Tarn.");
    assert_eq!(page.text(".reading"), "Total so far 3.5 of 10");
    assert_eq!(page.text(".tag"), "partly marked");

    let table = instructor.get(&marking.table()).await;
    assert_eq!(
        table.texts("thead th"),
        [
            "Student",
            "Total and state",
            "Negative /4",
            "Contact print /3",
            "Report /3",
            "Standing",
            "Comment on all of it"
        ]
    );
    assert_eq!(marking.row(&table, vask), ["3.5", "", "", "3.5 of 10"]);
    assert_eq!(table.text("tbody .tag"), "partly marked");
}

#[tokio::test]
async fn the_evidence_stands_beside_the_form() {
    let (_, instructor, student, marking) = with_rubric().await;
    let path = marking.sheet(student.student.expect("a student"));
    let page = instructor.get(&path).await;
    assert!(page.text(".grid").contains("No camera is registered. Sheets No exposure is recorded in this session."));
    with_box(&student).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "a little pale")).await;
    let report = format!("/bench/report/{}", marking.session);
    student.saves(&report, &[("act", "save"), ("body", "A cloud came.")]).await;
    let page = instructor.get(&path).await;
    let evidence = page.text(".grid > section");
    for words in [
        "Camera 1, box: film 127 mm × 102 mm at 128 mm from the hole.",
        "Hole 0.5 mm from 2 readings, f/256.",
        "Sheet 1 at 12:00 (own): full sun, distinct shadows",
        "made 33 s. Came out: a little pale.",
    ] {
        assert!(evidence.contains(words), "{words}: {evidence}");
    }
    assert!(!evidence.contains("A cloud came."), "a draft is its writer's alone");
}

#[tokio::test]
async fn points_above_the_most_or_no_number_get_a_message_beside_the_field() {
    let (_, instructor, student, marking) = with_rubric().await;
    let vask = student.student.expect("a student");
    let typed = [
        ("points", "Negative", "4.5"),
        ("points", "Contact print", "good"),
        ("points", "Report", "2"),
        ("comment", "Report", "<script>alert(1)</script>"),
    ];
    let answer = marking.mark(&instructor, vask, &typed).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        answer.error_beside(&marking.field("points", "Negative")),
        "must be a number from 0 to 4, with at most two decimals (4 or 3.5)"
    );
    assert!(answer.error_beside(&marking.field("points", "Contact print")).starts_with("must be a number from 0 to 3"));
    let kept = |name: &str| answer.attribute(&format!("[name={}]", marking.field("points", name)), "value");
    assert_eq!(kept("Contact print").as_deref(), Some("good"));
    assert_eq!(kept("Report").as_deref(), Some("2"));
    assert_eq!(answer.text(&format!("[name={}]", marking.field("comment", "Report"))), "<script>alert(1)</script>");
    let again = instructor.get(&marking.sheet(vask)).await;
    assert_eq!(again.text(".tag"), "unmarked", "nothing of it was stored");
}

#[tokio::test]
async fn two_markers_on_different_cells_keep_both_marks() {
    let (app, instructor, student, marking) = with_rubric().await;
    let assistant = app.staff(Role::Assistant, "Bo Tarn").await;
    let path = marking.sheet(student.student.expect("a student"));
    let (one, two) = (instructor.get(&path).await, assistant.get(&path).await);
    let sent = send(&instructor, &path, &marking.typed(&one, &[("points", "Negative", "4")])).await;
    assert_eq!(sent.status, StatusCode::SEE_OTHER);
    let sent = send(&assistant, &path, &marking.typed(&two, &[("points", "Report", "2.5")])).await;
    assert_eq!(sent.status, StatusCode::SEE_OTHER, "{}", sent.text("main"));
    let table = instructor.get(&marking.table()).await;
    assert_eq!(marking.row(&table, student.student.expect("one")), ["4", "", "2.5", "6.5 of 10"]);
}

#[tokio::test]
async fn two_markers_on_the_same_cell_are_shown_both_versions() {
    let (app, instructor, student, marking) = with_rubric().await;
    let assistant = app.staff(Role::Assistant, "Bo Tarn").await;
    let path = marking.sheet(student.student.expect("a student"));
    let (one, two) = (instructor.get(&path).await, assistant.get(&path).await);
    send(&instructor, &path, &marking.typed(&one, &[("points", "Negative", "4")])).await;
    let typed = [("points", "Negative", "2"), ("comment", "Negative", "Soft."), ("points", "Report", "3")];
    let answer = send(&assistant, &path, &marking.typed(&two, &typed)).await;
    assert_eq!(answer.status, StatusCode::CONFLICT);
    assert_eq!(answer.texts("tbody th"), ["Negative", "Report"]);
    assert_eq!(answer.texts("tbody td"), ["2 points. Soft.", "4 points", "3 points", "no points"]);
    assert_eq!(answer.attribute("a.go", "href").as_deref(), Some(path.as_str()));
    let table = instructor.get(&marking.table()).await;
    let row = marking.row(&table, student.student.expect("one"));
    assert_eq!(row[..3], ["4", "", ""], "nothing of the second sending is stored");

    let same = send(&assistant, &path, &marking.typed(&two, &[("points", "Negative", "4")])).await;
    assert_eq!(same.status, StatusCode::SEE_OTHER, "two who agree do not clash");
}

#[tokio::test]
async fn the_overall_comment_is_a_cell_as_well() {
    let (app, instructor, student, marking) = with_rubric().await;
    let assistant = app.staff(Role::Assistant, "Bo Tarn").await;
    let path = marking.sheet(student.student.expect("a student"));
    let (one, two) = (instructor.get(&path).await, assistant.get(&path).await);
    send(&instructor, &path, &marking.typed(&one, &[("overall", "", "Well done.")])).await;
    let answer = send(&assistant, &path, &marking.typed(&two, &[("overall", "", "Fine.")])).await;
    assert_eq!(answer.status, StatusCode::CONFLICT);
    assert_eq!(answer.text("tr.differs th"), "Comment on all of it");
    assert_eq!(answer.texts("tr.differs td"), ["Fine.", "Well done."]);
}

#[tokio::test]
async fn only_an_instructor_gives_back_and_takes_back() {
    let (app, instructor, student, marking) = with_rubric().await;
    let assistant = app.staff(Role::Assistant, "Bo Tarn").await;
    let vask = student.student.expect("a student");
    let give_back = format!("{}/give-back", marking.sheet(vask));
    let nothing = instructor.post(&give_back, &[]).await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY, "nothing is marked yet");
    marking.mark(&assistant, vask, &[("points", "Negative", "4")]).await;
    assert_eq!(assistant.post(&give_back, &[]).await.status, StatusCode::FORBIDDEN);
    assert_eq!(student.post(&give_back, &[]).await.status, StatusCode::FORBIDDEN);
    let page = instructor.saves(&give_back, &[]).await;
    assert_eq!(page.text(".tag"), "given back");
    let page = instructor.saves(&format!("{}/take-back", marking.sheet(vask)), &[]).await;
    assert_eq!(page.text(".tag"), "partly marked");

    let mut conn = app.state.store.read().await.expect("a reader");
    let log = store::people::change_log::list_of(&mut conn, vask).await.expect("a log");
    let lines: Vec<String> = log.iter().map(|line| format!("{}: {}", line.what, line.detail)).collect();
    assert_eq!(
        lines,
        [
            "marks entered: First light: Negative 4 points",
            "marks given back: First light",
            "marks taken back: First light"
        ]
    );
}

#[tokio::test]
async fn giving_back_to_all_gives_back_what_is_whole() {
    let (app, instructor, student, marking) = with_rubric().await;
    let evening = app.the_evening().await;
    let second = app.student(evening.section, "08", "Ola Brandt").await;
    let (vask, brandt) = (student.student.expect("one"), second.student.expect("another"));
    let all = format!("{}/give-back", marking.table());
    assert_eq!(instructor.post(&all, &[]).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let whole = [("points", "Negative", "4"), ("points", "Contact print", "3"), ("points", "Report", "0")];
    marking.mark(&instructor, vask, &whole).await;
    marking.mark(&instructor, brandt, &whole[..2]).await;
    let table = instructor.saves(&all, &[]).await;
    assert!(table.text("main").contains("0 unmarked, 1 partly marked, 0 marked, 1 given back"));
    assert_eq!(table.texts("tbody .tag"), ["given back", "partly marked"], "by roster number: 07, 08");
    let table = instructor.saves(&format!("{}/take-back", marking.table()), &[]).await;
    assert_eq!(table.texts("tbody .tag"), ["marked", "partly marked"]);
}

#[tokio::test]
async fn a_mark_for_a_criterion_taken_out_meanwhile_does_not_vanish_without_a_word() {
    let (app, instructor, student, marking) = with_rubric().await;
    let path = marking.sheet(student.student.expect("a student"));
    let page = instructor.get(&path).await;
    let mut shorter = marking.rubric.clone();
    shorter.criteria.retain(|it| it.name != "Report");
    let at = app.state.now();
    app.write(move |tx| {
        Box::pin(async move {
            assert!(store::marking::rubrics::update(tx, &shorter, at).await?);
            Ok(String::new())
        })
    })
    .await;
    let answer = send(&instructor, &path, &marking.typed(&page, &[("points", "Report", "3")])).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text(".wrong").contains("its “3” is not saved"), "{}", answer.text(".wrong"));
}

#[tokio::test]
async fn a_session_without_rubric_says_what_to_do() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    let session = app.the_evening().await.session;
    let table = instructor.get(&format!("/front/sessions/{session}/marks")).await;
    assert!(table.text(".empty").starts_with("This session has no rubric yet"));
    let path = format!("/front/sessions/{session}/marks/{}", student.student.expect("a student"));
    assert!(instructor.get(&path).await.text(".empty").starts_with("This session has no rubric yet"));
    assert_eq!(instructor.post(&path, &[]).await.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn nobody_marks_a_student_of_another_section_or_a_session_that_is_not_there() {
    let (app, instructor, student, marking) = with_rubric().await;
    let stranger: StudentId = app.state.mint();
    let path = marking.sheet(stranger);
    assert_eq!(instructor.get(&path).await.status, StatusCode::NOT_FOUND);
    assert_eq!(instructor.post(&path, &[("overall", "x")]).await.status, StatusCode::NOT_FOUND);
    assert_eq!(instructor.post(&format!("{path}/give-back"), &[]).await.status, StatusCode::NOT_FOUND);
    let elsewhere: LabSessionId = app.state.mint();
    let path = format!("/front/sessions/{elsewhere}/marks/{}", student.student.expect("a student"));
    assert_eq!(instructor.get(&path).await.status, StatusCode::NOT_FOUND);
    assert_eq!(student.get(&marking.table()).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn hostile_criteria_and_names_are_shown_as_they_are() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let marking =
        give_rubric(&app, [("<script>alert(1)</script>", 1_000), ("=cmd()", 1_000), ("\"quoted\" & <b>", 1_000)]).await;
    let hostile = app.student(evening.section, "\"9\"", "<img src=x> =cmd() \u{202e}نوعا").await;
    let table = instructor.get(&marking.table()).await;
    assert_eq!(table.texts("thead th")[2], "<script>alert(1)</script> /1");
    assert!(table.attribute("td img", "src").is_none());
    let page = instructor.get(&marking.sheet(hostile.student.expect("a student"))).await;
    assert_eq!(page.texts("legend")[0], "<script>alert(1)</script>");
}
