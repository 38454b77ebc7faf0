//! What leaves as CSV: the columns promised, hostile cells intact and harmless, the same from a
//! page and from the command line.

use std::{fs, path::Path};

use axum::http::{StatusCode, header};
use shimlight::{
    domain::{
        evening::lab_session::LabSession,
        people::{roster, section::Section},
    },
    export::{self, cell::unguard},
    store,
};

use crate::{
    app::{Answer, Client, TestApp},
    bench::sheets::{id_of, sheet_in_the_sun, with_box},
    marking::give_rubric,
};

const EXPOSURES: &str = "exposure,section,session,camera,shape,hole_to_film_mm,hole_diameter_mm,f_number,light_source,\
                         ev100,exposure_index,base_s,forecast_s,forecast_low_s,forecast_high_s,made_s,result_stops,\
                         result_source,made_at,paper,forecast_shown,spoiled,left_out,demonstration";

/// Fetches a file and checks how it is announced.
async fn fetch(client: &Client, path: &str) -> Answer {
    let answer = client.get(path).await;
    assert_eq!(answer.status, StatusCode::OK, "{path}");
    assert_eq!(answer.headers[header::CONTENT_TYPE], "text/csv; charset=utf-8");
    let kept_as = answer.headers[header::CONTENT_DISPOSITION].to_str().expect("plain letters");
    assert!(kept_as.starts_with("attachment; filename=\"") && kept_as.contains(".csv"), "{kept_as}");
    answer
}

/// The rows as a reader gets them, our apostrophes taken off.
fn rows(csv: &str) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(csv.as_bytes());
    let row = |record: csv::StringRecord| record.iter().map(|field| unguard(field).to_owned()).collect();
    reader.records().map(|record| row(record.expect("a record"))).collect()
}

/// Writes every file into a folder and gives the paths below it.
async fn write_everything(app: &TestApp, folder: &Path) -> Vec<String> {
    let mut conn = app.state.store.read().await.expect("a reader");
    let written = export::write_everything(&mut conn, folder).await.expect("files");
    let below = |path: &Path| path.strip_prefix(folder).expect("below").to_str().expect("UTF-8").replace('\\', "/");
    written.iter().map(|path| below(path)).collect()
}

#[tokio::test]
async fn an_exposure_is_one_row_in_the_promised_columns() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "a little pale")).await;
    let session = app.the_evening().await.session;
    for path in ["/front/exports/exposures.csv".to_owned(), format!("/front/sessions/{session}/exports/exposures.csv")]
    {
        let answer = fetch(&instructor, &path).await;
        let mut lines = answer.body.split("\r\n");
        assert_eq!(lines.next(), Some(EXPOSURES));
        let row: Vec<&str> = lines.next().expect("a row").split(',').collect();
        // the section's name has a comma, so it is quoted: two pieces
        assert_eq!(
            row[..9],
            ["1", "\"Light and shadow", " group 2\"", "First light", "1", "flat rectangle", "128", "0.5", "256"]
        );
        assert_eq!(row[9..12], ["sky", "15", "6"]);
        // ISO 2720 with EV 15 (ANSI PH2.7 table): 100 × 256² / (2^15 × 6) = 33.3 s
        assert_eq!(row[12], "33.333");
        assert_eq!(row[16], "33");
        assert_eq!(row[18..20], ["eye", "2026-03-20T12:00:00-06:00"]);
        // nobody looked at a forecast before
        assert_eq!(row[20..], ["\"Resin-coated paper", " grade 2\"", "no", "", "no", "no"]);
        assert!(row[17].parse::<f64>().expect("stops") > 0.0, "too pale would have needed more: {}", row[17]);
        assert_eq!(lines.next(), Some(""));
    }
}

#[tokio::test]
async fn a_row_says_what_spoiled_its_sheet_and_that_it_is_left_out() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    let mut spoiled = sheet_in_the_sun("33", "too dark");
    spoiled.retain(|(field, _)| *field != "fault");
    spoiled.push(("fault", "leak"));
    let kept = student.saves("/bench/exposures", &spoiled).await;
    let paper = app.the_evening().await.paper;
    let leave = format!("/front/stockroom/papers/{paper}/leave-out");
    instructor.saves(&leave, &[("exposure", &*id_of(&kept).to_string()), ("reason", "the lid was loose")]).await;
    let file = fetch(&instructor, "/front/exports/exposures.csv").await;
    let row = &rows(&file.body)[1];
    assert_eq!((row[16].as_str(), row[17].as_str()), ("-1", "eye"), "what was said of it stays");
    assert_eq!(row[21..], ["leak", "yes", "no"]);
    let again = format!("/front/stockroom/papers/{paper}/count-again");
    instructor.saves(&again, &[("exposure", &*id_of(&kept).to_string())]).await;
    let file = fetch(&instructor, "/front/exports/exposures.csv").await;
    assert_eq!(rows(&file.body)[1][21..], ["leak", "no", "no"]);
}

#[tokio::test]
async fn marks_of_a_session_are_one_row_a_student_with_a_column_a_criterion() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    let marking = give_rubric(&app, [("Negative", 4_000), ("=SUM(A1:A9)", 2_500), ("Print, \"final\"", 3_000)]).await;
    let section = app.the_evening().await.section;
    let hostile = app.student(section, "-1", "=cmd()|' /C calc'!A0").await;
    app.student(section, "09", "愛子, \"Ai\"").await;
    let typed = [
        ("points", "Negative", "3.5"),
        ("comment", "Negative", "Sharp.\n=even here"),
        ("points", "=SUM(A1:A9)", "2.5"),
        ("points", "Print, \"final\"", "0"),
        ("overall", "", "-5 for the edges, \"else\" fine"),
    ];
    marking.mark(&instructor, student.student.expect("one"), &typed).await;
    marking.mark(&instructor, hostile.student.expect("another"), &[typed[0], ("points", "=SUM(A1:A9)", "–")]).await;
    instructor.saves(&format!("{}/give-back", marking.sheet(student.student.expect("one"))), &[]).await;

    let answer = fetch(&instructor, &format!("/front/sessions/{}/exports/marks.csv", marking.session)).await;
    assert_eq!(
        answer.headers[header::CONTENT_DISPOSITION],
        "attachment; filename=\"marks-2026-03-20-First-light.csv\"; filename*=UTF-8''marks%202026-03-20%20First%20light.csv"
    );
    assert_eq!(
        answer.body,
        "section,session,roster_number,student,Negative /4,'=SUM(A1:A9) /2.5,\"Print, \"\"final\"\" /3\",total,out_of,\
         percent,state,comment,marked_by,marked_at\r\n\
         \"Light and shadow, group 2\",First light,'-1,'=cmd()|' /C calc'!A0,3.5,left out,,3.5,7,,part,,Ines Quarry,\
         2026-03-20T12:00:00-06:00\r\n\
         \"Light and shadow, group 2\",First light,07,Teodora Vask,3.5,2.5,0,6,9.5,63.2,given back,\
         \"'-5 for the edges, \"\"else\"\" fine\nNegative: Sharp.\n=even here\",Ines Quarry,2026-03-20T12:00:00-06:00\r\n\
         \"Light and shadow, group 2\",First light,09,\"愛子, \"\"Ai\"\"\",,,,,9.5,,unmarked,,,\r\n"
    );
    let read = rows(&answer.body);
    assert_eq!(read[0][5], "=SUM(A1:A9) /2.5");
    assert_eq!(read[1][3], "=cmd()|' /C calc'!A0");
    assert_eq!(read[3][3], "愛子, \"Ai\"");
}

#[tokio::test]
async fn hostile_names_survive_a_roster_going_out_and_coming_in_again() {
    let (app, _, instructor, _) = TestApp::with_open_session().await;
    let section = app.the_evening().await.section;
    let names =
        ["=cmd()", "+49 170", "-Ada", "@home", "'t Hart", "'=quoted", "Vask, \"Ilo\"", "मीरा", "‏נועה", "<b>&amp;"];
    for (name, number) in names.iter().zip(10..) {
        app.student(section, &number.to_string(), name).await;
    }
    let file = fetch(&instructor, &format!("/front/sections/{section}/exports/roster.csv")).await;
    assert!(file.body.starts_with("roster_number,name,email_optional,user_identifier,class_identifier\r\n"));
    assert!(file.body.contains("\r\n10,'=cmd(),,,\r\n") && file.body.contains("''=quoted"), "{}", file.body);
    let read = roster::read(&file.body, unguard).expect("our own file");
    let mut back: Vec<&str> = read.lines.iter().map(|line| line.name.as_str()).collect();
    let mut out: Vec<&str> = names.into_iter().chain(["Teodora Vask"]).collect();
    back.sort_unstable();
    out.sort_unstable();
    assert_eq!(back, out);

    let preview = instructor.post(&format!("/front/sections/{section}/roster/preview"), &[("rows", &file.body)]).await;
    assert_eq!(preview.status, StatusCode::OK, "{}", preview.text("main"));
    let effects = preview.texts("td .tag");
    assert!(effects.len() == 11 && effects.iter().all(|effect| effect == "unchanged"), "{effects:?}");
}

#[tokio::test]
async fn an_empty_section_has_files_with_their_headers() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let folder = tempfile::tempdir().expect("a folder");
    let written = write_everything(&app, folder.path()).await;
    let read = |name: &str| fs::read_to_string(folder.path().join(name)).expect("a file");
    assert_eq!(
        read("Light and shadow, group 2/roster.csv"),
        "roster_number,name,email_optional,user_identifier,class_identifier\r\n"
    );
    assert_eq!(
        read("Light and shadow, group 2/2026-03-20 First light/marks.csv"),
        "section,session,roster_number,student,total,out_of,percent,state,comment,marked_by,marked_at\r\n"
    );
    assert_eq!(read("exposures.csv"), format!("{EXPOSURES}\r\n"));
    for name in &written {
        assert_eq!(read(name).matches("\r\n").count(), 1, "{name} has a header and no row");
    }
    let staff = app.staff(shimlight::domain::people::actor::Role::Assistant, "Bo Tarn").await;
    fetch(&staff, &format!("/front/sections/{}/exports/roster.csv", evening.section)).await;
}

#[tokio::test]
async fn without_a_site_there_are_headers_still() {
    let app = TestApp::new().await;
    let folder = tempfile::tempdir().expect("a folder");
    let written = write_everything(&app, &folder.path().join("not/there/yet")).await;
    assert!(written.contains(&"exposures.csv".to_owned()), "{written:?}");
}

#[tokio::test]
async fn everything_is_the_same_each_time_and_the_same_as_from_the_pages() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    let marking = give_rubric(&app, [("Negative", 4_000), ("Print", 3_000), ("Report", 3_000)]).await;
    marking.mark(&instructor, student.student.expect("a student"), &[("points", "Negative", "4")]).await;
    with_box(&student).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await;
    let (once, twice) = (tempfile::tempdir().expect("a folder"), tempfile::tempdir().expect("another"));
    let written = write_everything(&app, once.path()).await;
    assert_eq!(written, write_everything(&app, twice.path()).await);
    for name in &written {
        let bytes = fs::read(once.path().join(name)).expect("a file");
        assert_eq!(bytes, fs::read(twice.path().join(name)).expect("a file"), "{name}");
        let path = match name.as_str() {
            "Light and shadow, group 2/roster.csv" => {
                format!("/front/sections/{}/exports/roster.csv", app.the_evening().await.section)
            }
            "Light and shadow, group 2/2026-03-20 First light/marks.csv" => {
                format!("/front/sessions/{}/exports/marks.csv", marking.session)
            }
            site => format!("/front/exports/{site}"),
        };
        assert_eq!(fetch(&instructor, &path).await.body.as_bytes(), bytes, "{path}");
    }
}

#[tokio::test]
async fn folders_of_hostile_names_lead_nowhere_and_none_is_lost() {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let section = |name: &str, door_code: &str| {
        // ids are in the order of their making, and so are the files
        app.state.world.clock.forward_minutes(1);
        let (name, door_code) = (name.to_owned(), door_code.to_owned());
        Section { id: app.state.mint(), site: evening.site, name, door_code, walk_ins: false, version: 1 }
    };
    let sections = [
        section("../../outside", "AAAA1"),
        section("exposures.csv", "AAAA2"),
        section("light and shadow, group 2", "AAAA3"),
        section("/", "AAAA4"),
    ];
    let ids: Vec<_> = sections.iter().map(|section| section.id).collect();
    let titles = ["../../../up", "=cmd()", "=cmd()"].map(|title| {
        app.state.world.clock.forward_minutes(1);
        (app.state.mint(), title.to_owned())
    });
    let at = app.state.now();
    app.write(move |tx| {
        Box::pin(async move {
            for (section, minute) in sections.iter().zip(0..) {
                store::people::sections::insert(tx, section, at.plus_minutes(minute)).await?;
            }
            let like = store::evening::lab_sessions::find(tx, evening.session).await?.expect("a session");
            for (id, title) in titles {
                let session = LabSession { id, title, section: ids[0], ..like.clone() };
                store::evening::lab_sessions::insert(tx, &session, at).await?;
            }
            Ok(String::new())
        })
    })
    .await;
    let folder = tempfile::tempdir().expect("a folder");
    let written = write_everything(&app, &folder.path().join("files")).await;
    let marks: Vec<&str> = written.iter().map(String::as_str).filter(|name| name.ends_with("marks.csv")).collect();
    assert_eq!(
        marks,
        [
            "Light and shadow, group 2/2026-03-20 First light/marks.csv",
            "outside/2026-03-20 ..-..-..-up/marks.csv",
            "outside/2026-03-20 =cmd()/marks.csv",
            "outside/2026-03-20 =cmd() (2)/marks.csv",
        ]
    );
    let rosters: Vec<&str> = written.iter().map(String::as_str).filter(|name| name.ends_with("roster.csv")).collect();
    assert_eq!(
        rosters,
        [
            "Light and shadow, group 2/roster.csv",
            "outside/roster.csv",
            "exposures.csv (2)/roster.csv",
            "light and shadow, group 2 (2)/roster.csv",
            "unnamed/roster.csv",
        ]
    );
    let made: Vec<_> = fs::read_dir(folder.path()).expect("a folder").collect();
    assert_eq!(made.len(), 1, "nothing was written outside");
}

#[tokio::test]
async fn the_pages_list_every_file_and_students_reach_none() {
    let (app, anon, instructor, student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let list = instructor.get("/front/exports").await;
    assert_eq!(list.status, StatusCode::OK);
    let of_session = instructor.get(&format!("/front/sessions/{}/exports", evening.session)).await;
    assert_eq!(of_session.text("h1"), "Files of this session");
    let roster = format!("/front/sections/{}/exports/roster.csv", evening.section);
    let marks = format!("/front/sessions/{}/exports/marks.csv", evening.session);
    for path in ["/front/exports/exposures.csv", &roster, &marks] {
        assert!(list.body.contains(path), "{path}");
        fetch(&instructor, path).await;
        assert_eq!(student.get(path).await.status, StatusCode::FORBIDDEN);
        assert_eq!(anon.get(path).await.status, StatusCode::SEE_OTHER);
    }
    assert_eq!(instructor.get("/front/exports/shimlight.db").await.status, StatusCode::NOT_FOUND);
}
