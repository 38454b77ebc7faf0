//! Partners type in what they wrote on their card in the dark, one row a sheet.

use std::sync::Arc;

use axum::http::StatusCode;
use shimlight::{
    domain::{baths::sheet_run::SheetOf, exposure::Exposure, ids::FormId},
    store,
};

use crate::{
    app::{Answer, Client, TestApp},
    bench::sheets::{film_on_the_shelf, with_body_cap, with_box, with_hole},
};

const PILE: &str = "/bench/exposures/pile";

/// Row of a card: light, seconds, time of day, when it went through the trays.
fn row(number: usize, values: [&str; 4]) -> Vec<(String, String)> {
    let names = ["light", "made", "time", "trays"];
    names.iter().zip(values).map(|(name, value)| (format!("{name}_{number}"), value.to_owned())).collect()
}

fn and(mut fields: Vec<(String, String)>, more: &[(&str, &str)]) -> Vec<(String, String)> {
    for (name, value) in more {
        fields.retain(|(field, _)| field != name);
        fields.push(((*name).to_owned(), (*value).to_owned()));
    }
    fields
}

/// What the page carries beside the rows, as a browser would send it.
async fn hidden(student: &Client) -> Vec<(String, String)> {
    let page = student.get(PILE).await;
    let hidden = |name: &str| page.attribute(&format!("input[name={name}]"), "value").unwrap_or_default();
    ["of_session", "of_camera", "sheet", "rows"].map(|name| (name.to_owned(), hidden(name))).into()
}

async fn send(student: &Client, rows: &[Vec<(String, String)>]) -> Answer {
    send_with(student, hidden(student).await, rows).await
}

async fn send_with(student: &Client, mut fields: Vec<(String, String)>, rows: &[Vec<(String, String)>]) -> Answer {
    fields.extend(rows.iter().flatten().cloned());
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    student.post(PILE, &fields).await
}

async fn stored(app: &TestApp) -> Vec<Exposure> {
    let session = app.the_evening().await.session;
    let mut conn = app.state.store.read().await.expect("a reader");
    store::exposure::exposures::list_of_session(&mut conn, session).await.expect("exposures")
}

/// Two partners with a box, f/256. It is a quarter past twelve; the session began at noon.
async fn partners() -> (Arc<TestApp>, Client, Client, Client) {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let partner = app.student(app.the_evening().await.section, "11", "Bram Okafor").await;
    with_box(&student).await;
    partner.saves("/bench/camera/join", &[("number", "1"), ("partner", "07")]).await;
    app.state.world.clock.forward_minutes(15);
    (app, instructor, student, partner)
}

#[tokio::test]
async fn partners_type_in_their_cards_and_each_sheet_is_whose_it_is() {
    let (app, _instructor, student, partner) = partners().await;
    let link = student.get("/bench/exposures").await;
    assert_eq!(link.text(&format!("a[href='{PILE}']")), "Several cards to type in");
    let page = student.get(PILE).await;
    assert_eq!(page.text("h1"), "Cards to type in, camera 1");
    let heads = page.texts(".card-grid thead th");
    assert_eq!(heads[..4], ["Card", "Whose", "Light", "Seconds"]);
    assert!(!heads.contains(&"Camera".to_owned()) && !heads.contains(&"Hole, mm".to_owned()), "{heads:?}");
    assert_eq!(page.texts("#student_1 option"), ["choose", "11 Bram Okafor", "07 Teodora Vask"]);
    assert_eq!(page.attribute("[name=sheet]", "value").as_deref(), Some("127x102mm"), "what the camera takes");

    let mine = and(row(1, ["FS", "33", "12:02", "12:08"]), &[("student_1", "07"), ("verdict_1", "too pale")]);
    let theirs = and(row(3, ["HO b", "2 min", "12:05", "no"]), &[("student_3", "11"), ("sheet_3", "9x12cm")]);
    let answer = send(&student, &[mine, theirs]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let page = student.get(&answer.location()).await;
    assert_eq!(page.text("p.saved"), "They are sheets 1 to 2: write each number on the back of its sheet.");
    assert_eq!(page.texts("[aria-label='Sheets of this session'] tbody th"), ["2", "1"]);
    assert!(page.text("[aria-label='Sheets of this session'] tbody").contains("11 Bram Okafor"));

    let sheets = stored(&app).await;
    assert_eq!(sheets.iter().map(|sheet| sheet.student).collect::<Vec<_>>(), [student.student, partner.student]);
    // f/256 in full sun at EV 15 and EI 6: 33.3 s; eight times that under a heavy overcast
    assert_eq!(sheets.iter().map(|sheet| sheet.base_ms).collect::<Vec<_>>(), [33_333, 266_667]);
    assert!(sheets.iter().all(|sheet| !sheet.forecast_shown), "what stood on the card was printed some other time");
    assert!(sheets.iter().all(|sheet| sheet.recorded_by == student.student.expect("a student").into()));
    assert_eq!((sheets[0].sheet.typed.as_str(), sheets[1].sheet.typed.as_str()), ("127x102mm", "9x12cm"));
    let mut conn = app.state.store.read().await.expect("a reader");
    let run = store::baths::sheet_runs::find_of(&mut conn, SheetOf::Negative(sheets[0].id)).await.expect("read");
    assert_eq!(run.expect("went through").developed_at.micros_since(sheets[0].made_at), 6 * 60_000_000);
    assert_eq!(
        store::baths::sheet_runs::find_of(&mut conn, SheetOf::Negative(sheets[1].id)).await.expect("read"),
        None
    );
    drop(conn);
    // the partner finds them too, and puts right what is wrong
    let found = partner.get(&format!("/bench/exposures/{}", sheets[1].id)).await;
    assert_eq!(found.status, StatusCode::OK);
    // nobody is told of sheets that are not there
    assert!(!student.get(&format!("{PILE}?first=1&last=7")).await.text("p.saved").contains("sheets"));
}

#[tokio::test]
async fn a_camera_that_nobody_shares_asks_not_whose_it_is() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    app.state.world.clock.forward_minutes(10);
    assert!(student.get(PILE).await.attribute("#student_1", "name").is_none());
    // whatever else is sent of camera, hole and student goes nowhere
    let forged = [("camera_1", "7"), ("hole_1", "0.9 0.9"), ("student_1", "99")];
    let answer = send(&student, &[and(row(1, ["FS", "33", "12:02", "no"]), &forged)]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let page = student.get(&answer.location()).await;
    assert_eq!(page.text("p.saved"), "It is sheet 1: write the number on its back.");
    let sheets = stored(&app).await;
    assert_eq!((sheets.len(), sheets[0].student, sheets[0].base_ms), (1, student.student, 33_333));
}

#[tokio::test]
async fn every_bad_row_is_named_and_nothing_is_taken_in_that_nobody_said() {
    let (app, _instructor, student, _partner) = partners().await;
    app.on_roster(app.the_evening().await.section, "20", "Odile Marsh").await;
    let good = and(row(1, ["FS", "33", "12:02", "no"]), &[("student_1", "07")]);
    for (field, value, words) in [
        ("student", "", "choose whose sheet it is"),
        ("student", "20", "choose one of those offered"),
        ("light", "SUNNY", "is not on the list"),
        ("made", "long", "is not a time"),
        ("time", "", "type a time of day"),
        ("time", "12:30", "lies ahead"),
        ("sheet", "4x5", "with its unit"),
        ("trays", "", "type when it went through, or “no”"),
        ("trays", "soon", "type a time of day"),
        ("trays", "12:01", "lies before the exposure"),
        ("aim", "the moon", "type middle, side, top, corner"),
        ("verdict", "right", "before the trays a sheet shows nothing"),
        ("stops", "1", "goes with “stops given”"),
    ] {
        let name = format!("{field}_3");
        let verdict = if field == "stops" { ("verdict_3", "right") } else { ("remark_3", "the pier") };
        let bad = and(row(3, ["FS", "33", "12:02", "no"]), &[("student_3", "11"), verdict, (&name, value)]);
        let answer = send(&student, &[good.clone(), bad]).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{field} {value}");
        let said = answer.error_beside(&name);
        assert!(said.starts_with("Card 3: ") && said.contains(words), "{field} {value}: {said}");
        if !["verdict", "student"].contains(&field) {
            assert_eq!(answer.attribute(&format!("[name={name}]"), "value").as_deref(), Some(value));
        }
    }
    assert!(send(&student, &[]).await.text("main").contains("no card was typed in"));
    assert!(stored(&app).await.is_empty());

    // what spoiled a sheet may be known before the trays
    let fogged = and(good, &[("verdict_1", "all black"), ("fault_1", "fog"), ("trays_1", "No")]);
    assert_eq!(send(&student, &[fogged]).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_closed_session_takes_no_cards_from_students_and_loses_nothing_that_was_typed() {
    let (app, instructor, student, _partner) = partners().await;
    let typed_before = hidden(&student).await;
    instructor.saves(&format!("/front/sessions/{}/close", app.the_evening().await.session), &[]).await;
    let card = and(row(1, ["FS", "33", "12:02", "no"]), &[("student_1", "07"), ("remark_1", "the pier")]);
    let answer = send_with(&student, typed_before, &[card]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text(".wrong").contains("the session is closed: ask your instructor to type in your card"));
    assert_eq!(answer.attribute("[name=remark_1]", "value").as_deref(), Some("the pier"));
    let page = student.get(PILE).await;
    assert!(page.text("main").contains("is over: ask your instructor"), "{}", page.text("main"));
    assert!(page.attribute(".card-grid", "class").is_none());
    assert!(stored(&app).await.is_empty());
}

#[tokio::test]
async fn rows_typed_for_one_camera_or_session_are_not_taken_for_another() {
    let (app, _instructor, student, _partner) = partners().await;
    let typed_before = hidden(&student).await;
    let card = and(row(1, ["FS", "33", "12:02", "no"]), &[("student_1", "07")]);
    student.saves("/bench/camera", &[("build", "box"), ("distance", "90"), ("width", "90"), ("height", "90")]).await;
    with_hole(&student).await;
    // more rows do not make them rows of the new camera
    let more = send_with(&student, typed_before.clone(), &[and(card.clone(), &[("more", "yes")])]).await;
    assert_eq!(more.texts(".card-grid tbody tr").len(), 24);
    assert_eq!(more.attribute("[name=of_camera]", "value").as_deref(), Some("1"));
    let answer = send_with(&student, typed_before.clone(), std::slice::from_ref(&card)).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text(".wrong").contains("your camera is camera 2 now"), "{}", answer.text(".wrong"));
    assert_eq!(answer.attribute("[name=made_1]", "value").as_deref(), Some("33"));
    assert_eq!(answer.attribute("[name=of_camera]", "value").as_deref(), Some("2"), "said, so it may be sent again");

    let elsewhere = and(typed_before, &[("of_camera", "2"), ("of_session", "")]);
    let answer = send_with(&student, elsewhere, std::slice::from_ref(&card)).await;
    assert!(answer.text(".wrong").contains("is the session now, and its date is 20 Mar 2026"), "{}", answer.body);
    assert!(stored(&app).await.is_empty());
    assert_eq!(send(&student, &[card]).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn without_camera_hole_or_film_the_page_says_what_comes_first() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let main = async || student.get(PILE).await.text("main");
    let refused = async || send(&student, &[row(1, ["FS", "33", "12:00", "no"])]).await.text(".wrong");
    assert!(main().await.contains("You have no camera yet"), "{}", main().await);
    assert!(refused().await.contains("register your camera first"), "{}", refused().await);
    let measures = [("build", "body cap"), ("distance", "45.5"), ("width", "36"), ("height", "24")];
    film_on_the_shelf(&app).await;
    student.saves("/bench/camera", &measures).await;
    assert!(main().await.contains("the hole comes first"));
    with_body_cap(&student).await;
    assert!(main().await.contains("say which film is in it"), "{}", main().await);
    let of = [("of_camera", "2"), ("of_session", &app.the_evening().await.session.to_string())];
    let answer = send_with(&student, and(Vec::new(), &of), &[row(1, ["FS", "1", "12:00", ""])]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text(".wrong").contains("say first which film is in the camera"), "{}", answer.text(".wrong"));
    assert!(stored(&app).await.is_empty());
}

#[tokio::test]
async fn film_in_a_body_cap_goes_through_no_trays_and_is_not_asked() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_body_cap(&student).await;
    let film = film_on_the_shelf(&app).await.to_string();
    student.saves("/bench/exposures/film", &[("film", &film)]).await;
    app.state.world.clock.forward_minutes(10);
    let page = student.get(PILE).await;
    assert!(!page.texts(".card-grid thead th").contains(&"Trays at".to_owned()));
    let answer = send(&student, &[row(1, ["HO", "2", "12:05", ""])]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    let sheets = stored(&app).await;
    assert_eq!((sheets[0].paper.to_string(), sheets[0].exposure_index_milli), (film, 100_000));
}

#[tokio::test]
async fn the_same_pile_sent_twice_is_recorded_once_and_old_sheets_are_not_of_a_new_camera() {
    let (app, _instructor, student, _partner) = partners().await;
    let form: FormId = app.state.mint();
    let mut fields = hidden(&student).await;
    fields.extend(and(row(1, ["FS", "33", "12:02", "no"]), &[("student_1", "07")]));
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect();
    for _ in 0..2 {
        let answer = student.post_as(PILE, &form.to_string(), &fields).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
        assert!(answer.location().ends_with("?first=1&last=1"));
    }
    assert_eq!(stored(&app).await.len(), 1);
    // two days later in the same session, with a camera made then
    app.state.world.clock.forward_minutes(48 * 60);
    let late = app.student(app.the_evening().await.section, "12", "Odile Marsh").await;
    with_box(&late).await;
    let answer = send(&late, &[row(1, ["FS", "33", "12:02", "no"])]).await;
    assert!(answer.error_beside("time_1").contains("before camera 2 was registered"), "{}", answer.text("main"));
}
