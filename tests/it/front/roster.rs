//! Bringing in a roster: previewed, every bad line named, all or nothing.

use axum::{
    body::Body,
    http::{Request, StatusCode, header},
};
use shimlight::{domain::people::student::Student, store};

use crate::app::{Answer, Client, TestApp};

async fn roster_path(app: &TestApp) -> String {
    format!("/front/sections/{}/roster", app.the_evening().await.section)
}

async fn everyone(app: &TestApp) -> Vec<Student> {
    let section = app.the_evening().await.section;
    store::people::students::list_ever(&mut app.state.store.read().await.expect("a reader"), section)
        .await
        .expect("students")
}

/// Confirms a preview as its page's form would.
async fn confirm(instructor: &Client, path: &str, preview: &Answer) -> Answer {
    let rows = preview.attribute("[name=rows]", "value").expect("the rows");
    let fingerprint = preview.attribute("[name=fingerprint]", "value").expect("a fingerprint");
    instructor.post(&format!("{path}/import"), &[("rows", &rows), ("fingerprint", &fingerprint)]).await
}

/// Sends a file as a browser does.
async fn send_file(client: &Client, path: &str, bytes: &[u8]) -> Answer {
    let mut body =
        b"--cut\r\nContent-Disposition: form-data; name=\"file\"; filename=\"r.csv\"\r\nContent-Type: text/csv\r\n\r\n"
            .to_vec();
    body.extend_from_slice(bytes);
    body.extend_from_slice(b"\r\n--cut\r\nContent-Disposition: form-data; name=\"rows\"\r\n\r\n\r\n--cut--\r\n");
    let request = Request::post(path)
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=cut")
        .header(header::HOST, "lab.test")
        .header(header::ORIGIN, "http://lab.test")
        .body(Body::from(body))
        .expect("a request");
    client.send(request).await
}

#[tokio::test]
async fn a_file_is_previewed_first_and_then_taken_as_a_whole() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let path = roster_path(&app).await;
    let file = "\u{feff}roster_number,name,email_optional\r\n07,Teodora Vask,\r\n08,\"Vask, Ilo\",ilo@example.org\r\n09,愛子,\r\n";
    let preview = send_file(&instructor, &format!("{path}/preview"), file.as_bytes()).await;
    assert_eq!(preview.status, StatusCode::OK, "{}", preview.text("main"));
    assert_eq!(preview.text("main p strong"), "2 added, 0 changed, 0 put back on, 1 unchanged.");
    assert_eq!(preview.texts("td .tag"), ["unchanged", "added", "added"]);
    assert_eq!(everyone(&app).await.len(), 1, "a preview stores nothing");

    let done = confirm(&instructor, &path, &preview).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text("main"));
    let names: Vec<String> = everyone(&app).await.into_iter().map(|student| student.name).collect();
    assert_eq!(names, ["Teodora Vask", "Vask, Ilo", "愛子"]);
}

#[tokio::test]
async fn a_hostile_roster_is_refused_line_by_line_and_nothing_of_it_is_taken() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let path = roster_path(&app).await;
    let rows = "roster_number,name,email_optional\n\
                08,Ilo Vask,\n\
                08,Uma Vask,\n\
                ,Nobody,\n\
                10,<script>alert(1)</script>,\n\
                11,Vask, Ada,ada@example.org\n\
                12,\"Never closed,\n";
    let refused = instructor.post(&format!("{path}/preview"), &[("rows", rows)]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(
        refused.texts(".wrong li"),
        [
            "Line 3: the roster number 08 stands in line 2 already",
            "Line 4: the roster number is missing",
            "Line 6: it has 4 cells where the header has 3: a name with a comma needs quotes round it",
            "Line 7: a quote is opened and never closed",
        ]
    );
    assert!(refused.text("textarea").contains("Uma Vask"), "what was sent can be mended in place");
    let forced = instructor.post(&format!("{path}/import"), &[("rows", rows), ("fingerprint", "")]).await;
    assert_eq!(forced.status, StatusCode::UNPROCESSABLE_ENTITY, "skipping the preview helps nobody");
    assert_eq!(everyone(&app).await.len(), 1);
}

#[tokio::test]
async fn cells_that_a_spreadsheet_would_run_are_names_like_any_other() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let path = roster_path(&app).await;
    let rows = "roster_number,name,email_optional\n\
                '+1,'=cmd|' /C calc'!A0,\n\
                2,\"<b>\"\"Bo\"\"</b> & Söhne\",\n\
                3,'t Hart,\n";
    let preview = instructor.post(&format!("{path}/preview"), &[("rows", rows)]).await;
    assert_eq!(preview.status, StatusCode::OK, "{}", preview.text("main"));
    let done = confirm(&instructor, &path, &preview).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text("main"));
    let found: Vec<(String, String)> =
        everyone(&app).await.into_iter().map(|student| (student.roster_number, student.name)).collect();
    for (number, name) in [("+1", "=cmd|' /C calc'!A0"), ("2", "<b>\"Bo\"</b> & Söhne"), ("3", "'t Hart")] {
        assert!(found.contains(&(number.to_owned(), name.to_owned())), "{number} {name}: {found:?}");
    }
    let page = instructor.get(path.trim_end_matches("/roster")).await;
    assert!(page.texts("tbody b").is_empty(), "names are text, not markup");
}

#[tokio::test]
async fn a_file_that_is_no_comma_separated_utf8_is_refused_with_the_reason() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let path = format!("{}/preview", roster_path(&app).await);
    let semicolons = send_file(&instructor, &path, b"roster_number;name\n1;Ada\n").await;
    assert!(
        semicolons.text(".wrong li").starts_with("Line 1: cells are parted by semicolons"),
        "{}",
        semicolons.text("main")
    );
    let latin = send_file(&instructor, &path, b"roster_number,name\n1,J\xf6rg\n").await;
    assert!(latin.text(".wrong li").contains("save the file as CSV UTF-8"), "{}", latin.text("main"));
    let nothing = instructor.post(&path, &[("rows", " ")]).await;
    assert_eq!(nothing.error_beside("rows"), "choose a file or paste the lines of the roster");
    let both = instructor.post(&path, &[("rows", "roster_number,name"), ("file", "roster_number,name")]).await;
    assert!(both.error_beside("rows").starts_with("send a file or pasted lines"));
}

#[tokio::test]
async fn a_preview_that_is_no_longer_true_must_be_looked_at_again() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let path = roster_path(&app).await;
    let rows = "roster_number,name\n07,Teodora Vask-Lind\n08,Ilo Vask\n";
    let preview = instructor.post(&format!("{path}/preview"), &[("rows", rows)]).await;
    assert!(preview.text("tbody tr td:last-child").starts_with("name was Teodora Vask"), "{:?}", preview.texts("td"));
    instructor.saves(&format!("{path}/{}/strike-off", student.student.expect("a student")), &[]).await;

    let late = confirm(&instructor, &path, &preview).await;
    assert_eq!(late.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(late.text(".wrong").contains("look at it again"), "{}", late.text("main"));
    assert_eq!(late.texts("td .tag"), ["back on", "added"]);
    let done = confirm(&instructor, &path, &late).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text("main"));
    let names: Vec<String> = everyone(&app)
        .await
        .into_iter()
        .filter(|student| student.left_at.is_none())
        .map(|student| student.name)
        .collect();
    assert_eq!(names, ["Teodora Vask-Lind", "Ilo Vask"]);
}

#[tokio::test]
async fn confirming_twice_takes_the_roster_once() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let path = roster_path(&app).await;
    let preview = instructor.post(&format!("{path}/preview"), &[("rows", "roster_number,name\n08,Ilo Vask\n")]).await;
    let rows = preview.attribute("[name=rows]", "value").expect("the rows");
    let fingerprint = preview.attribute("[name=fingerprint]", "value").expect("a fingerprint");
    let form = preview.attribute("[name=form_id]", "value").expect("a form id");
    let fields = [("rows", rows.as_str()), ("fingerprint", fingerprint.as_str())];
    for _ in 0..2 {
        let answer = instructor.post_as(&format!("{path}/import"), &form, &fields).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    }
    assert_eq!(everyone(&app).await.len(), 2);
    let again = instructor.post(&format!("{path}/preview"), &[("rows", &rows)]).await;
    assert!(again.text("main").contains("Every line is on the roster already"));
}

#[tokio::test]
async fn a_roster_taken_away_is_brought_in_again_unchanged() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let section = app.the_evening().await.section;
    for (number, name) in [
        ("=1", "=cmd|' /C calc'!A0"),
        ("-2", "+Plus, \"Minus\" -"),
        ("3", "'t Hart"),
        ("4", "@ \u{202e}right to left"),
        ("5", "Ren\u{e9}e <b>&amp;</b>"),
        ("6", "'=already guarded"),
    ] {
        app.student(section, number, name).await;
    }
    let taken = instructor.get(&format!("/front/sections/{section}/exports/roster.csv")).await;
    assert_eq!(taken.status, StatusCode::OK);
    let path = format!("{}/preview", roster_path(&app).await);
    let preview = send_file(&instructor, &path, taken.body.as_bytes()).await;
    assert_eq!(preview.status, StatusCode::OK, "{}", preview.text("main"));
    assert_eq!(preview.text("main p strong"), "0 added, 0 changed, 0 put back on, 7 unchanged.");
}

#[tokio::test]
async fn cells_pasted_from_a_spreadsheet_are_taken_and_the_preview_says_how_they_were_read() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let path = roster_path(&app).await;
    let rows = "07\tTeodora Vask\t\r\n10\tBrandt, Ola\tola@example.org\r\n9\tIlo Vask\t\r\n";
    let preview = instructor.post(&format!("{path}/preview"), &[("rows", rows)]).await;
    assert_eq!(preview.status, StatusCode::OK, "{}", preview.text("main"));
    let said = "Read as cells parted by tabs, without a header: the first column as roster number, the second as name, \
                a third as e-mail.";
    assert!(preview.text("main").contains(said), "{}", preview.text("main"));
    assert_eq!(preview.texts("tbody th"), ["Teodora Vask", "Brandt, Ola", "Ilo Vask"], "every line is shown");
    let done = confirm(&instructor, &path, &preview).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER, "{}", done.text("main"));
    let names: Vec<String> = everyone(&app).await.into_iter().map(|student| student.name).collect();
    assert_eq!(names, ["Teodora Vask", "Ilo Vask", "Brandt, Ola"]);

    let unclear = instructor.post(&format!("{path}/preview"), &[("rows", "Ada Amsel\t12\n")]).await;
    assert_eq!(unclear.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(unclear.text(".wrong li").contains("without a header, each line begins with a roster number"));
    assert!(unclear.text("textarea").contains("Ada Amsel 12"), "what was pasted is kept");
}
