//! Marks that follow from the record: suggested with their evidence, taken or overridden with a
//! reason; the table that is marked in; two markers at once.

use std::sync::Arc;

use axum::http::{Request, StatusCode, header};
use shimlight::domain::{ids::StudentId, marking::from_record::Source, people::actor::Role};

use crate::{
    app::{Answer, Client, TestApp},
    bench::sheets::{sheet_in_the_sun, with_box},
    marking::{Marking, give_rubric_of, send, with_rubric},
};

const EVERYTHING: [(&str, i64, Option<Source>); 6] = [
    ("Hole", 2_000, Some(Source::Hole)),
    ("Exposures", 4_000, Some(Source::Exposure)),
    ("Trays", 2_000, Some(Source::ChemistryEntered)),
    ("Clean-up", 1_000, Some(Source::CleanUp)),
    ("Report on time", 1_000, Some(Source::ReportOnTime)),
    ("Negative", 4_000, None),
];

async fn with_record() -> (Arc<TestApp>, Client, Client, Marking) {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    let marking = give_rubric_of(&app, &EVERYTHING).await;
    (app, instructor, student, marking)
}

/// Sends fields as the table's script does.
async fn by_script(client: &Client, path: &str, fields: &[(String, String)]) -> (StatusCode, serde_json::Value) {
    let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
    let request = Request::post(path)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header(header::ACCEPT, "application/json")
        .header(header::HOST, "lab.test")
        .header(header::ORIGIN, "http://lab.test")
        .body(axum::body::Body::from(body))
        .expect("a request");
    let answer = client.send(request).await;
    (answer.status, serde_json::from_str(&answer.body).unwrap_or_else(|_| panic!("JSON: {}", answer.body)))
}

fn says(page: &Answer, marking: &Marking, criterion: &str) -> String {
    page.text(&format!("[id=criterion-{}] .says", marking.criterion(criterion)))
}

async fn staff_looks(instructor: &Client, marking: &Marking, student: StudentId) {
    let path = format!("/front/sessions/{}/seen", marking.session);
    let page = instructor.get(&path).await;
    let hole = page.attribute("select[name^=round-]", "name").expect("a hole to look at");
    let clean = format!("clean-{student}");
    let page = instructor.saves(&path, &[(&hole, "yes"), (&clean, "yes")]).await;
    assert_eq!(page.attribute(&format!("[name=had-{clean}]"), "value").as_deref(), Some("yes"));
}

#[tokio::test]
async fn the_record_suggests_marks_with_their_evidence_and_the_marker_takes_them() {
    let (_, instructor, student, marking) = with_record().await;
    let vask = student.student.expect("a student");
    with_box(&student).await;
    let before = instructor.get(&marking.sheet(vask)).await;
    assert!(says(&before, &marking, "Hole").contains("staff has not looked"), "{}", says(&before, &marking, "Hole"));
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "a little pale")).await;
    staff_looks(&instructor, &marking, vask).await;
    let page = instructor.get(&marking.sheet(vask)).await;
    let hole = says(&page, &marking, "Hole");
    assert!(
        hole.starts_with("The record suggests 2: 0.500 mm against a target of 0.504 mm: -1 %, within 10 %; round"),
        "{hole}"
    );
    assert!(says(&page, &marking, "Clean-up").contains("as witnessed by staff"));
    assert!(says(&page, &marking, "Report on time").contains("nothing yet"), "the session is still open");
    assert!(says(&page, &marking, "Trays").contains("1 of 1 sheets and prints entered"));

    // one button takes one suggestion
    let mut fields = marking.as_shown(&page);
    fields.push(("take".to_owned(), format!("take-{}", marking.criterion("Hole"))));
    let answer = send(&instructor, &marking.sheet(vask), &fields).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let table = instructor.get(&marking.table()).await;
    assert_eq!(marking.row(&table, vask)[0], "2");
    assert_eq!(marking.row(&table, vask)[6], "2 of 14");

    // and one takes all that stand, for everybody
    let table = instructor.saves(&format!("{}/take-suggestions", marking.table()), &[]).await;
    assert_eq!(marking.row(&table, vask)[..5], ["2", "4", "2", "1", ""]);
}

#[tokio::test]
async fn giving_something_else_than_suggested_wants_a_reason_which_the_student_reads() {
    let (_, instructor, student, marking) = with_record().await;
    let vask = student.student.expect("a student");
    with_box(&student).await;
    staff_looks(&instructor, &marking, vask).await;
    let answer = marking.mark(&instructor, vask, &[("points", "Hole", "1.5")]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    let reason = marking.field("reason", "Hole");
    assert_eq!(answer.error_beside(&reason), "the record suggests 2: say why you give something else");
    let typed = [("points", "Hole", "1.5"), ("reason", "Hole", "A burr was left."), ("points", "Negative", "3")];
    let answer = marking.mark(&instructor, vask, &typed).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));

    instructor.saves(&format!("{}/give-back", marking.sheet(vask)), &[]).await;
    let seen = student.get("/bench/marks").await.text("table");
    assert!(seen.contains("1.5 of 2"), "{seen}");
    assert!(
        seen.contains("round as checked by staff.") && seen.contains("Given otherwise: A burr was left."),
        "{seen}"
    );
}

#[tokio::test]
async fn film_in_a_body_cap_is_not_marked_by_trays_it_never_sees() {
    let (_, instructor, student, marking) = with_record().await;
    let vask = student.student.expect("a student");
    student
        .saves("/bench/camera", &[("build", "body cap"), ("distance", "45"), ("width", "36"), ("height", "24")])
        .await;
    let table = instructor.saves(&format!("{}/take-suggestions", marking.table()), &[]).await;
    let row = marking.row(&table, vask);
    assert_eq!(row[2], "–", "{row:?}");
    assert_eq!(row[1], "–", "no sheet of film can be judged on the evening");
    let typed = [
        ("points", "Negative", "4"),
        ("points", "Hole", "2"),
        ("points", "Clean-up", "1"),
        ("points", "Report on time", "1"),
    ];
    marking.mark(&instructor, vask, &typed).await;
    let table = instructor.get(&marking.table()).await;
    assert_eq!(marking.row(&table, vask)[6], "8 of 8", "out of what applies, not of 14");
    assert_eq!(table.text("tbody .tag"), "marked");
    let csv = instructor.get(&format!("/front/sessions/{}/exports/marks.csv", marking.session)).await;
    assert!(csv.body.contains(",8,8,100.0,whole,") || csv.body.contains(",8,8,100,whole,"), "{}", csv.body);
}

#[tokio::test]
async fn who_was_absent_gets_no_noughts_but_is_named_until_the_instructor_decides() {
    let (app, instructor, student, marking) = with_record().await;
    let evening = app.the_evening().await;
    let vask = student.student.expect("a student");
    with_box(&student).await;
    let absent = app.student(evening.section, "10", "Ada Amsel").await.student.expect("one");
    let cleaner = app.student(evening.section, "9", "Zoe Brook").await.student.expect("one");
    let seen = format!("/front/sessions/{}/seen", marking.session);
    let noted = [(format!("clean-{cleaner}"), "yes"), (format!("clean-{absent}"), "no")];
    instructor.saves(&seen, &noted.each_ref().map(|(name, word)| (name.as_str(), *word))).await;
    let open = instructor.get(&marking.table()).await;
    assert!(!open.text("main").contains("No work on record"), "the evening is not over");
    instructor.saves(&format!("/front/sessions/{}/close", marking.session), &[]).await;
    let table = instructor.get(&marking.table()).await;
    assert!(
        table.text("main").contains("No work on record: 10 Ada Amsel. They stay unmarked"),
        "{}",
        table.text("main")
    );
    assert!(table.text("form.not-on-paper").contains("for 2 students"), "{}", table.text("form.not-on-paper"));

    let table = instructor.saves(&format!("{}/take-suggestions", marking.table()), &[]).await;
    assert_eq!(marking.row(&table, vask)[1..5], ["0", "0", "", "0"], "was here, but exposed no sheet");
    assert_eq!(marking.row(&table, cleaner)[..5], ["0", "0", "0", "1", "0"]);
    assert_eq!(marking.row(&table, absent)[..6], [""; 6]);
    assert_eq!(table.texts(&format!("tr[data-student='{absent}'] .tag")), ["unmarked", "no work on record"]);
    assert_eq!(table.texts("tbody th"), ["07 Teodora Vask", "9 Zoe Brook", "10 Ada Amsel"], "as one counts");

    // a nought of the instructor's own wants no reason, and then the line is theirs
    let cell = marking.cell(absent, "Exposures", ("", "0"), "0");
    assert_eq!(by_script(&instructor, &marking.table(), &cell).await.0, StatusCode::OK);
    let table = instructor.get(&marking.table()).await;
    assert_eq!(marking.row(&table, absent)[..3], ["", "0", ""]);
    assert!(!table.text("main").contains("No work on record"));
}

#[tokio::test]
async fn the_table_is_marked_in_without_a_script_and_keeps_what_was_typed_when_refused() {
    let (app, instructor, student, marking) = with_rubric().await;
    let other = app.student(app.the_evening().await.section, "08", "Ola Brandt").await.student.expect("one");
    let vask = student.student.expect("a student");
    let mut fields = marking.cell(vask, "Negative", ("", "0"), "3");
    fields.extend(marking.cell(other, "Negative", ("", "0"), "9"));
    let answer = send(&instructor, &marking.table(), &fields).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    let name = format!("points-{other}-{}", marking.criterion("Negative"));
    assert!(answer.error_beside(&name).starts_with("must be a number from 0 to 4"));
    assert_eq!(marking.row(&answer, vask)[0], "3", "kept as typed");
    assert_eq!(marking.row(&instructor.get(&marking.table()).await, vask)[0], "", "and not stored by halves");
    let mut fields = marking.cell(vask, "Negative", ("", "0"), "3");
    fields.extend(marking.cell(other, "Negative", ("", "0"), "–"));
    fields.extend([
        (format!("overall-{vask}"), "Well seen.".to_owned()),
        (format!("standing-{vask}"), "late".to_owned()),
        (format!("had-standing-{vask}"), "as usual".to_owned()),
        (format!("seen-overall-{vask}"), "0".to_owned()),
    ]);
    let answer = send(&instructor, &marking.table(), &fields).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let table = instructor.get(&marking.table()).await;
    assert_eq!(marking.row(&table, vask), ["3", "", "", "3 of 10"]);
    assert_eq!(marking.row(&table, other), ["–", "", "", "– of 6"]);
    assert_eq!(table.text(&format!("[name=overall-{vask}]")), "Well seen.");
    assert_eq!(table.text(&format!("[name=standing-{vask}] option[selected]")), "late");
}

#[tokio::test]
async fn two_markers_in_one_table_lose_no_mark_and_see_each_others() {
    let (app, instructor, student, marking) = with_rubric().await;
    let assistant = app.staff(Role::Assistant, "Bo Tarn").await;
    let vask = student.student.expect("a student");
    let (status, answer) =
        by_script(&instructor, &marking.table(), &marking.cell(vask, "Negative", ("", "0"), "4")).await;
    assert_eq!(status, StatusCode::OK);
    let id = vask.to_string();
    let negative = marking.criterion("Negative").to_string();
    assert_eq!(answer["lines"][&id]["cells"][&negative]["typed"], "4");
    assert_eq!(answer["lines"][&id]["total"], "4");

    // the other had the page open before: the cell they both mark is refused with what stands there
    let (status, answer) =
        by_script(&assistant, &marking.table(), &marking.cell(vask, "Negative", ("", "0"), "2")).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert_eq!(answer["clash"][0], serde_json::json!(["Number 07, Negative", "2 points", "4 points"]));
    assert_eq!(answer["lines"][&id]["cells"][&negative]["by"], "Ines Quarry");
    // knowing that, they put theirs
    let (status, _) = by_script(&assistant, &marking.table(), &marking.cell(vask, "Negative", ("4", "1"), "2")).await;
    assert_eq!(status, StatusCode::OK);
    let looked = instructor.get(&format!("{}/now?by-itself", marking.table())).await;
    let looked: serde_json::Value = serde_json::from_str(&looked.body).expect("JSON");
    assert_eq!(looked["lines"][&id]["cells"][&negative]["typed"], "2");
    assert_eq!(looked["lines"][&id]["cells"][&negative]["by"], "Bo Tarn");
    assert_eq!(student.get(&format!("{}/now", marking.table())).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn a_script_is_told_which_cell_wants_its_reason() {
    let (_, instructor, student, marking) = with_record().await;
    let vask = student.student.expect("a student");
    with_box(&student).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await;
    let cell = marking.cell(vask, "Exposures", ("", "0"), "1");
    let (status, answer) = by_script(&instructor, &marking.table(), &cell).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    let name = format!("reason-{vask}-{}", marking.criterion("Exposures"));
    assert_eq!(answer["errors"][0][0], name);
    let mut cell = cell;
    cell.push((name, "The second time was a guess.".to_owned()));
    assert_eq!(by_script(&instructor, &marking.table(), &cell).await.0, StatusCode::OK);
}

#[tokio::test]
async fn who_is_excused_has_no_total_and_is_out_of_nothing() {
    let (_, instructor, student, marking) = with_rubric().await;
    let vask = student.student.expect("a student");
    marking.mark(&instructor, vask, &[("points", "Negative", "2"), ("standing", "", "excused")]).await;
    let table = instructor.get(&marking.table()).await;
    assert_eq!(marking.row(&table, vask)[3], "– of 0");
    assert_eq!(table.text("tbody .tag"), "excused");
    assert!(table.text("main").contains("0 marked, 1 excused"), "{}", table.text("main"));
}

#[tokio::test]
async fn stock_phrases_are_each_markers_own_and_land_at_the_end_of_a_comment() {
    let (app, instructor, student, marking) = with_rubric().await;
    let assistant = app.staff(Role::Assistant, "Bo Tarn").await;
    let vask = student.student.expect("a student");
    instructor.saves("/front/phrases", &[("phrases", "Mind the edges.\n\nWell counted.\nMind the edges.")]).await;
    let page = instructor.get(&marking.sheet(vask)).await;
    assert_eq!(page.texts("[name=phrase] option")[1..], ["Mind the edges.", "Well counted."]);
    assert!(assistant.get(&marking.sheet(vask)).await.texts("[name=phrase]").is_empty());
    marking.mark(&instructor, vask, &[("overall", "", "Sharp."), ("phrase", "", "Mind the edges.")]).await;
    let page = instructor.get(&marking.sheet(vask)).await;
    assert_eq!(page.text("[name=overall]"), "Sharp. Mind the edges.");
}

#[tokio::test]
async fn the_spread_of_the_totals_is_said_in_words_as_well() {
    let (app, instructor, student, marking) = with_rubric().await;
    let other = app.student(app.the_evening().await.section, "08", "Ola Brandt").await.student.expect("one");
    for (who, points) in [(student.student.expect("one"), "4"), (other, "1")] {
        let typed = [("points", "Negative", points), ("points", "Contact print", "3"), ("points", "Report", "2")];
        marking.mark(&instructor, who, &typed).await;
    }
    let table = instructor.get(&marking.table()).await;
    let words = "2 students marked: from 60 % to 90 %, median 75 %.";
    assert_eq!((table.text("figure figcaption").as_str(), table.text("svg desc").as_str()), (words, words));
}
