//! Reports with questions, pictures and a time: drafts save by themselves, pictures are encoded
//! anew, a late report is taken and marked as late.

use std::io::Cursor;

use axum::{
    body::Body,
    http::{Request, StatusCode, header},
};

use super::sheets::{id_of, sheet_in_the_sun, version_of, with_box};
use crate::{
    app::{Answer, Client, TestApp},
    marking::with_rubric,
};

/// A small picture as a camera would send it.
pub fn a_jpeg() -> Vec<u8> {
    let picture =
        image::DynamicImage::ImageLuma8(image::GrayImage::from_fn(60, 40, |x, y| image::Luma([(x * y) as u8])));
    let mut bytes = Vec::new();
    picture.write_to(&mut Cursor::new(&mut bytes), image::ImageFormat::Jpeg).expect("encoded");
    bytes
}

/// Sends a picture as a browser's form does.
pub async fn add_picture(student: &Client, session: &str, bytes: &[u8], sheet: &str) -> Answer {
    let mut body = Vec::new();
    for (name, value) in [("sheet", sheet), ("caption", "The wall behind the shed")] {
        body.extend_from_slice(
            format!("--part\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n").as_bytes(),
        );
    }
    let head = "--part\r\nContent-Disposition: form-data; name=\"file\"; filename=\"a.jpg\"\r\nContent-Type: image/jpeg\r\n\r\n";
    body.extend_from_slice(head.as_bytes());
    body.extend_from_slice(bytes);
    body.extend_from_slice(b"\r\n--part--\r\n");
    let request = Request::post(format!("/bench/report/{session}/pictures"))
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=part")
        .header(header::HOST, "lab.test")
        .header(header::ORIGIN, "http://lab.test")
        .body(Body::from(body))
        .expect("a request");
    student.send(request).await
}

/// Saves a draft as the page's script does.
async fn draft(student: &Client, path: &str, fields: &[(&str, &str)]) -> (StatusCode, serde_json::Value) {
    let body = form_urlencoded::Serializer::new(String::new()).extend_pairs(fields).finish();
    let request = Request::post(path)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header(header::ACCEPT, "application/json")
        .header(header::HOST, "lab.test")
        .header(header::ORIGIN, "http://lab.test")
        .body(Body::from(body))
        .expect("a request");
    let answer = student.send(request).await;
    (answer.status, serde_json::from_str(&answer.body).unwrap_or_else(|_| panic!("JSON: {}", answer.body)))
}

/// The instructor asks two questions and sets a time.
async fn questions(app: &TestApp, instructor: &Client, due: &str) -> (String, Vec<String>) {
    let session = app.the_evening().await.session;
    let path = format!("/front/sessions/{session}/asked");
    let was = instructor.get(&path).await.attribute("[name=was]", "value").expect("a fingerprint");
    let fields = [
        ("was", was.as_str()),
        ("due", due),
        ("words-1", "What went wrong?"),
        ("kind-1", "text"),
        ("words-2", "How long was the best sheet open?"),
        ("kind-2", "number"),
        ("unit-2", "s"),
    ];
    let page = instructor.saves(&path, &fields).await;
    let ids = (1..=2).map(|row| page.attribute(&format!("[name=question-{row}]"), "value").expect("a question"));
    (format!("/bench/report/{session}"), ids.collect())
}

#[tokio::test]
async fn a_report_answers_questions_and_is_taken_late_with_a_flag() {
    let (app, instructor, student, marking) = with_rubric().await;
    let (path, ids) = questions(&app, &instructor, "2026-03-20T11:50").await;
    let page = student.get(&path).await;
    assert!(page.text("main").contains("To be handed in by 20 Mar 2026, 11:50"));
    let (text, number) = (format!("answer-{}", ids[0]), format!("answer-{}", ids[1]));
    let wrong = [("act", "submit"), ("body", ""), (text.as_str(), "A cloud came."), (number.as_str(), "long")];
    let answer = student.post(&path, &wrong).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.error_beside(&number).starts_with("must be a time"));
    assert_eq!(answer.text(&format!("[name={text}]")), "A cloud came.", "nothing typed is lost");
    let right = [("act", "submit"), ("body", ""), (text.as_str(), "A cloud came."), (number.as_str(), "33,5")];
    let page = student.saves(&path, &right).await;
    assert_eq!(page.texts("span.tag"), ["handed in", "late"]);
    assert!(page.texts("main p").iter().all(|line| !line.contains("handed in handed in")));
    assert!(page.text("main").contains("33,5 s"));
    let seen = instructor.get(&marking.sheet(student.student.expect("one"))).await.text(".grid > section");
    for words in ["What went wrong?", "A cloud came.", "33,5 s", "late"] {
        assert!(seen.contains(words), "{words}: {seen}");
    }
}

#[tokio::test]
async fn a_draft_saves_itself_and_is_there_on_another_computer() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    let (path, ids) = questions(&app, &instructor, "").await;
    let answer = format!("answer-{}", ids[0]);
    let (status, said) = draft(&student, &path, &[("version", "0"), ("body", "First"), (&answer, "A cl")]).await;
    assert_eq!((status, &said["version"]), (StatusCode::OK, &serde_json::json!(1)));
    let (status, said) =
        draft(&student, &path, &[("version", "1"), ("body", "First line"), (&answer, "A cloud")]).await;
    assert_eq!((status, &said["version"]), (StatusCode::OK, &serde_json::json!(2)));
    assert_eq!(said["not_yet"], serde_json::json!([]), "words where words are asked");
    // the answer was lost on the way; sent again it is no clash
    let again = draft(&student, &path, &[("version", "1"), ("body", "First line"), (&answer, "A cloud")]).await;
    assert_eq!(again.0, StatusCode::OK);
    // another window still has the first draft open
    let (status, said) = draft(&student, &path, &[("version", "1"), ("body", "Other"), (&answer, "")]).await;
    assert_eq!(status, StatusCode::CONFLICT);
    assert!(said["said"].as_str().expect("words").contains("another window"));
    let elsewhere = student.copy();
    let page = elsewhere.get(&path).await;
    assert_eq!(page.text("[name=body]"), "First line");
    assert_eq!(page.text(&format!("[name={answer}]")), "A cloud");
    assert_eq!(page.text("span.tag"), "draft", "a script never hands in");
}

#[tokio::test]
async fn pictures_are_chosen_shown_and_taken_out_until_the_report_is_handed_in() {
    let (app, instructor, student, marking) = with_rubric().await;
    with_box(&student).await;
    let sheet = id_of(&student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await).to_string();
    let session = app.the_evening().await.session.to_string();
    let path = format!("/bench/report/{session}");
    let added = add_picture(&student, &session, &a_jpeg(), &sheet).await;
    assert_eq!(added.status, StatusCode::SEE_OTHER, "{}", added.text("main"));
    let page = student.get(&path).await;
    let src = page.attribute("figure img", "src").expect("a picture");
    assert_eq!(page.attribute("figure img", "alt").as_deref(), Some("Sheet 1: The wall behind the shed"));
    let shown = student.get(&src).await;
    assert_eq!(shown.headers[header::CONTENT_TYPE], "image/jpeg");
    assert_eq!(shown.headers[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
    assert_eq!(shown.headers[header::CONTENT_SECURITY_POLICY], "default-src 'none'; sandbox");

    for (bytes, message) in
        [(b"GIF89a".to_vec(), "must be a JPEG or a PNG"), (a_jpeg()[..a_jpeg().len() / 2].to_vec(), "is cut off")]
    {
        let refused = add_picture(&student, &session, &bytes, "").await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(refused.text("#picture-file-error").contains(message), "{}", refused.text("main"));
    }
    let other = app.student(app.the_evening().await.section, "08", "Ola Brandt").await;
    assert_eq!(other.get(&src).await.status, StatusCode::NOT_FOUND);
    assert_eq!(add_picture(&other, &session, &a_jpeg(), &sheet).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let for_staff =
        format!("{}/pictures/{}", marking.sheet(student.student.expect("one")), src.rsplit('/').next().expect("an id"));
    assert_eq!(instructor.get(&for_staff).await.status, StatusCode::NOT_FOUND, "a draft is its writer's alone");

    let version = version_of(&page, &path);
    student.saves(&path, &[("act", "submit"), ("body", "Look."), ("version", &version)]).await;
    assert_eq!(instructor.get(&for_staff).await.headers[header::CONTENT_TYPE], "image/jpeg");
    let id = src.rsplit('/').next().expect("an id");
    let refused = student.post(&format!("{path}/pictures/remove"), &[("picture", id)]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "handed in is handed in");
    let version = version_of(&student.get(&path).await, "withdraw");
    student.saves(&format!("{path}/withdraw"), &[("version", &version)]).await;
    let page = student.saves(&format!("{path}/pictures/remove"), &[("picture", id)]).await;
    assert!(page.texts("figure img").is_empty());
    assert_eq!(student.get(&src).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn words_where_a_number_is_asked_are_kept_as_a_draft_and_said_to_be_none_yet() {
    let (app, _, instructor, student) = TestApp::with_open_session().await;
    let (path, ids) = questions(&app, &instructor, "").await;
    let number = format!("answer-{}", ids[1]);
    let (status, said) = draft(&student, &path, &[("version", "0"), ("body", "x"), (&number, "a while")]).await;
    assert_eq!((status, &said["not_yet"]), (StatusCode::OK, &serde_json::json!([number])));
    let page = student.get(&path).await;
    assert_eq!(page.attribute(&format!("[name={number}]"), "value").as_deref(), Some("a while"));
    let beside = page.text(&format!("[id={number}-hint]"));
    assert!(beside.contains("is not a number yet"), "{beside}");
    assert!(page.text("[data-report-when]").contains("saved 20 Mar 2026"), "{}", page.text("main"));
    let (_, said) = draft(&student, &path, &[("version", "1"), ("body", "x"), (&number, "33,5")]).await;
    assert_eq!(said["not_yet"], serde_json::json!([]));
    assert_eq!(student.get(&path).await.text(&format!("[id={number}-hint]")), "");
}
