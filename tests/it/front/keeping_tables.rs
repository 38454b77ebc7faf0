//! What a section holds, table by table: every table that leads to a section is guarded once it is
//! archived, and every column of words is known either to be forgotten with the people or to tell
//! nothing of them. A new table or column fails here until somebody has decided.

use std::collections::BTreeSet;

use shimlight::store;
use sqlx::{AssertSqlSafe, Row, SqliteConnection};

use crate::{
    app::TestApp,
    bench::sheets::{id_of, sheet_in_the_sun, with_box},
    marking::with_rubric,
};

/// Tables that lead to a section and are none of its record: who is signed in.
const NOT_OF_THE_RECORD: [&str; 1] = ["sign_in"];

/// Words that go, or are written anew, when the people are forgotten.
const FORGOTTEN: [&str; 42] = [
    "announcement.words",
    "camera.distance_typed",
    "camera.film_diameter_typed",
    "camera.film_height_typed",
    "camera.film_width_typed",
    "camera.remark",
    "camera.subject_typed",
    "exposure.remark",
    "exposure.sheet_typed",
    "exposure.taken_back_why",
    "help_call.why",
    "hole.instrument_typed",
    "hole.plate_typed",
    "hole.remark",
    "hole_reading.typed",
    "left_out.reason",
    "mark.comment",
    "mark.evidence",
    "mark.reason",
    "mark_sheet.comment",
    "mark_sheet.standing",
    "own_figure.answer",
    "own_figure.expected",
    "own_figure.expected_by",
    "own_figure.figure",
    "own_figure.question",
    "own_figure.slip",
    "own_figure.standing",
    "own_figure.unit",
    "own_figure.working",
    "print.light",
    "print.remark",
    "print.sheet_typed",
    "report.body",
    "report.state",
    "report_answer.answer",
    "report_picture.caption",
    "report_picture.media_type",
    "sheet_count.remark",
    "sheet_count.size_typed",
    "student.email",
    "student.name",
];

/// Words of staff about the section and its sessions, which stay: the page says so.
const WORDS_OF_STAFF: [&str; 5] =
    ["lab_session.report_task", "lab_session.title", "report_question.words", "section.door_code", "section.name"];

/// The server's own words: states, kinds, dates, tables of numbers.
const TELL_NOTHING: [&str; 23] = [
    "camera.build",
    "camera.film_form",
    "exposure.aim",
    "exposure.fault",
    "exposure.light_source",
    "exposure.light_typed",
    "exposure.reciprocity_table",
    "exposure.result_source",
    "exposure.shown_for",
    "exposure.sign",
    "exposure.verdict",
    "lab_session.held_on",
    "lab_session.state",
    "own_figure_ask.figure",
    "print.verdict",
    "report_question.kind",
    "report_question.unit",
    "sheet_run.decision",
    "sheet_run.what",
    "sheet_run_batch.slot",
    "sheet_way.place",
    "student.units",
    "student.roster_number",
];

async fn strings(conn: &mut SqliteConnection, sql: String) -> Vec<String> {
    sqlx::query_scalar(AssertSqlSafe(sql)).fetch_all(conn).await.expect("strings")
}

/// Every table that leads to a section by its references, and the section itself.
async fn bound_tables(conn: &mut SqliteConnection) -> BTreeSet<String> {
    let sql =
        "SELECT t.name, f.\"table\" FROM sqlite_schema t, pragma_foreign_key_list(t.name) f WHERE t.type = 'table'";
    let rows = sqlx::query(sql).fetch_all(conn).await.expect("references");
    let references: Vec<(String, String)> = rows.iter().map(|row| (row.get(0), row.get(1))).collect();
    let mut bound = BTreeSet::from(["section".to_owned()]);
    loop {
        let more: Vec<String> =
            references.iter().filter(|(_, to)| bound.contains(to)).map(|(from, _)| from.clone()).collect();
        let before = bound.len();
        bound.extend(more);
        if bound.len() == before {
            return bound;
        }
    }
}

#[tokio::test]
async fn every_table_of_a_section_is_guarded_once_it_is_archived() {
    let app = TestApp::new().await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let triggers = strings(&mut conn, "SELECT name FROM sqlite_schema WHERE type = 'trigger'".to_owned()).await;
    let bound = bound_tables(&mut conn).await;
    assert!(bound.len() > 25, "{bound:?}");
    for table in bound.iter().filter(|table| *table != "section" && !NOT_OF_THE_RECORD.contains(&table.as_str())) {
        for act in ["insert", "update", "delete"] {
            let name = format!("{table}_archived_{act}");
            assert!(triggers.contains(&name), "no trigger {name}");
        }
    }
}

#[tokio::test]
async fn every_column_of_words_is_forgotten_or_known_to_tell_nothing() {
    let app = TestApp::new().await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let mut decided: BTreeSet<String> =
        ["student.user_identifier", "student.class_identifier"].map(str::to_owned).into();
    decided.extend(FORGOTTEN.iter().chain(&WORDS_OF_STAFF).chain(&TELL_NOTHING).map(|name| (*name).to_owned()));
    let mut there = BTreeSet::new();
    for table in bound_tables(&mut conn).await {
        let sql = format!("SELECT '{table}.' || name FROM pragma_table_info('{table}') WHERE type = 'TEXT'");
        there.extend(strings(&mut conn, sql).await);
    }
    assert_eq!(there, decided);
}

/// What may be left in a column whose words are forgotten.
fn tells_nothing(value: &str) -> bool {
    let measure = value.strip_suffix("mm").map(str::trim);
    let number = |part: &str| part.trim().parse::<f64>().is_ok();
    value.is_empty() || value.starts_with("forgotten") || measure.is_some_and(|it| it.split('x').all(number))
}

#[tokio::test]
async fn archived_nothing_is_changed_behind_the_pages_and_forgotten_nothing_is_left_in_any_column() {
    let (app, instructor, student, marking) = with_rubric().await;
    with_box(&student).await;
    student.saves("/bench/ways", &[]).await;
    student.saves("/bench/call", &[("why", "needle stuck")]).await;
    let sheet = id_of(&student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await);
    let evening = app.the_evening().await;
    let leave = format!("/front/stockroom/papers/{}/leave-out", evening.paper);
    instructor.saves(&leave, &[("exposure", &sheet.to_string()), ("reason", "the other box")]).await;
    let session = format!("/front/sessions/{}", evening.session);
    instructor.saves(&format!("{session}/floor/say"), &[("words", "lights on in two minutes")]).await;
    let paper = evening.paper.to_string();
    let count = [("paper", paper.as_str()), ("size", "6x7cm"), ("at_start", "50"), ("spoilt", "0"), ("remark", "bent")];
    instructor.saves(&format!("{session}/box"), &count).await;
    let strips = [("what", "test strip"), ("size", "4x5in"), ("sheets", "2"), ("developed_at", "2026-03-20T12:00")];
    let strips: Vec<(&str, &str)> = strips.into_iter().chain([("paper", paper.as_str())]).collect();
    let page = student.saves("/bench/chemistry", &strips).await;
    let take_back = page.attribute("form[action$=take-back]", "action").expect("a way back");
    marking.mark(&instructor, student.student.expect("a student"), &[("points", "Negative", "3")]).await;
    instructor.saves(&format!("{session}/close"), &[]).await;
    let keeping = format!("/front/sections/{}/keeping", evening.section);
    let name = instructor.get(&keeping).await.text(".note a");
    instructor.saves(&format!("{keeping}/archive"), &[]).await;

    let refused = [
        student.post(&take_back, &[]).await,
        student.post("/bench/chemistry", &strips).await,
        student.post(&format!("/bench/exposures/{sheet}/take-back"), &[("version", "1"), ("why", "twice")]).await,
        instructor
            .post(
                &format!("{session}/box"),
                &[&count[..1], &[("size", "8x10in"), ("at_start", "9"), ("spoilt", "0")]].concat(),
            )
            .await,
        instructor
            .post(&format!("{}/count-again", leave.trim_end_matches("/leave-out")), &[("exposure", &sheet.to_string())])
            .await,
    ];
    for (at, answer) in refused.into_iter().enumerate() {
        let said = answer.text("main");
        assert!(answer.status.is_client_error() && said.contains("archived"), "{at}: {} {said}", answer.status);
    }

    let mut conn = app.state.store.read().await.expect("a reader");
    let bound = bound_tables(&mut conn).await;
    drop(conn);
    let mut tried = 0;
    for table in bound.into_iter().filter(|table| table != "section" && !NOT_OF_THE_RECORD.contains(&table.as_str())) {
        tried += behind_the_pages(&app, table).await;
    }
    assert!(tried >= 12, "only {tried} tables held anything");

    instructor.saves(&format!("{keeping}/forget"), &[("name", &name)]).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    for column in FORGOTTEN {
        let (table, name) = column.split_once('.').expect("a table and a column");
        let sql = format!("SELECT DISTINCT {name} FROM {table} WHERE {name} IS NOT NULL");
        let left = strings(&mut conn, sql).await;
        assert!(left.iter().all(|value| tells_nothing(value)), "{column}: {left:?}");
    }
    let details = "SELECT detail FROM change_log WHERE detail LIKE '%07%' OR detail LIKE '%6x7cm%'".to_owned();
    assert_eq!(strings(&mut conn, details).await, Vec::<String>::new());
    let found = store::engine::check::run(&mut conn).await;
    assert!(found.is_ok_and(|faults| faults.is_empty()), "both laws hold");
}

/// Tries to change and to delete what a table of an archived section holds; gives whether it held
/// anything.
async fn behind_the_pages(app: &TestApp, table: String) -> usize {
    let mut conn = app.state.store.read().await.expect("a reader");
    let first = strings(&mut conn, format!("SELECT name FROM pragma_table_info('{table}') LIMIT 1")).await.remove(0);
    let held: i64 = sqlx::query_scalar(AssertSqlSafe(format!("SELECT count(*) FROM {table}")))
        .fetch_one(&mut *conn)
        .await
        .expect("a count");
    drop(conn);
    if held == 0 {
        return 0;
    }
    for sql in [format!("UPDATE {table} SET {first} = {first}"), format!("DELETE FROM {table}")] {
        let tried = sql.clone();
        let refused = app
            .state
            .store
            .write(app.state.server_stamp(), move |tx| {
                Box::pin(async move {
                    sqlx::query(AssertSqlSafe(sql)).execute(tx).await?;
                    Ok("/".to_owned())
                })
            })
            .await
            .expect_err(&tried);
        assert!(format!("{refused:?}").contains("archived"), "{tried}: {refused:?}");
    }
    1
}
