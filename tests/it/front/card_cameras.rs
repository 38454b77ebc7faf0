//! A camera that stands on a card of an evening without the server is registered by staff.

use std::sync::Arc;

use axum::http::StatusCode;
use shimlight::{
    domain::{
        camera::Camera,
        ids::{FormId, StudentId},
        people::actor::Role,
    },
    store,
};

use crate::app::{Answer, Client, TestApp};

const BOX: [(&str, &str); 4] = [("build", "box"), ("distance", "128"), ("width", "127"), ("height", "102")];

async fn path(app: &TestApp) -> String {
    format!("/front/sessions/{}/filled-cards/camera", app.the_evening().await.session)
}

/// The fields of a box of those students, and more.
fn of<'a>(whose: &[&'a str], more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut fields: Vec<(&str, &str)> = whose.iter().map(|id| ("whose", *id)).collect();
    fields.extend(BOX.into_iter().filter(|(name, _)| more.iter().all(|(other, _)| other != name)));
    fields.extend_from_slice(more);
    fields
}

async fn cameras(app: &TestApp) -> Vec<Camera> {
    let section = app.the_evening().await.section;
    let mut conn = app.state.store.read().await.expect("a reader");
    store::camera::cameras::list_of_section(&mut conn, section).await.expect("cameras")
}

async fn number_held(app: &TestApp, student: StudentId) -> Option<i64> {
    let mut conn = app.state.store.read().await.expect("a reader");
    store::camera::cameras::find_of_student(&mut conn, student).await.expect("read").map(|camera| camera.number)
}

/// What the change log keeps of a record.
async fn log_of<T: shimlight::domain::ids::Id>(app: &TestApp, id: T) -> Vec<String> {
    let mut conn = app.state.store.read().await.expect("a reader");
    let changes = store::people::change_log::list_of(&mut conn, id).await.expect("read");
    changes.into_iter().map(|change| format!("{}: {}", change.what, change.detail)).collect()
}

/// The server was down for the evening; next day its session is closed and the cards lie on the table.
async fn the_day_after() -> (Arc<TestApp>, Client, Client, Client) {
    let app = TestApp::new().await;
    let evening = app.evening().await;
    let instructor = app.staff(Role::Instructor, "Ines Quarry").await;
    instructor.saves(&format!("/front/sessions/{}/close", evening.session), &[]).await;
    app.state.world.clock.forward_minutes(22 * 60);
    let instructor = app.staff(Role::Instructor, "Pia Larch").await;
    let student = app.student(evening.section, "07", "Teodora Vask").await;
    let partner = app.student(evening.section, "08", "Bram Okafor").await;
    (app, instructor, student, partner)
}

fn id(client: &Client) -> String {
    client.student.expect("a student").to_string()
}

#[tokio::test]
async fn a_camera_of_a_card_becomes_its_makers_and_its_sheets_can_be_typed_in() {
    let (app, instructor, student, partner) = the_day_after().await;
    let cards = format!("/front/sessions/{}/filled-cards", app.the_evening().await.session);
    let card = [
        ("sheet", "4x5in"),
        ("instrument", "0.01 mm"),
        ("camera_1", "1"),
        ("student_1", "08"),
        ("light_1", "FS"),
        ("made_1", "33"),
        ("time_1", "12:10"),
    ];
    // the pile says what is missing and where to get it, without losing what was typed
    let refused = instructor.post(&cards, &card).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.error_beside("camera_1").contains("register it from its card"), "{}", refused.text("main"));
    let link = format!("a[href='{cards}/camera']");
    assert_eq!(refused.attribute(&link, "target").as_deref(), Some("_blank"));
    assert!(refused.text(&link).contains("register a camera from a card"));
    let fresh = instructor.get(&cards).await;
    assert!(fresh.attribute(&link, "href").is_some() && fresh.attribute(&link, "target").is_none());

    let form = instructor.get(&path(&app).await).await;
    assert_eq!(form.text("h1"), "Register a camera from a card");
    assert_eq!(form.texts("#whose label"), ["07 Teodora Vask", "08 Bram Okafor"]);
    assert_eq!(form.texts("#whose input[checked]").len(), 0);
    assert!(form.attribute("#other", "id").is_none(), "nobody has another camera");

    let (one, other) = (id(&student), id(&partner));
    let hole = [("reading_1", "0.5"), ("reading_2", "0.52"), ("instrument", "0.01")];
    let page = instructor.saves(&path(&app).await, &of(&[&one, &other], &hole)).await;
    assert_eq!(page.text("h1"), "Filled cards");
    assert!(page.text("p.saved").starts_with("It is camera 1: write the number on the card"), "{}", page.text("main"));
    assert!(page.text("dl.facts").contains("1: box, hole 0.510 mm"), "{}", page.text("dl.facts"));
    assert!(instructor.get(&cards).await.text("p.saved").is_empty());
    assert!(instructor.get(&format!("{cards}?registered=2")).await.text("p.saved").is_empty(), "there is no camera 2");

    // the same as if they had registered it at the bench
    let camera = student.get("/bench/camera").await;
    assert_eq!(camera.text("h1"), "Camera 1");
    assert!(camera.text("main").contains("yours and Bram Okafor"));
    assert!(partner.get("/bench/camera").await.text("main").contains("yours and Teodora Vask"));
    assert!(student.get("/bench/hole").await.text("main").contains("0.5 mm; 0.52 mm"));
    let stored = cameras(&app).await;
    assert_eq!(log_of(&app, stored[0].id).await, ["camera registered: camera 1, box, from a card"]);
    assert_eq!(log_of(&app, student.student.expect("one")).await, ["student moved: camera none to 1"]);
    let neighbour = app.student(app.the_evening().await.section, "21", "Odile Marsh").await;
    neighbour.saves("/bench/camera", &BOX).await;
    let own = cameras(&app).await.pop().expect("camera 2");
    assert_eq!((own.number, &own.body, &own.remark), (2, &stored[0].body, &stored[0].remark));

    // and the card that was refused goes in, with no hole of its own
    let answer = instructor.post(&cards, &card).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
    assert!(partner.get("/bench/exposures").await.text("main").contains("Sheet 1"));
}

#[tokio::test]
async fn every_mistake_on_a_card_is_told_beside_its_field_and_nothing_is_registered() {
    let (app, instructor, student, _partner) = the_day_after().await;
    let path = path(&app).await;
    let refused = async |fields: &[(&str, &str)]| -> Answer {
        let answer = instructor.post(&path, fields).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{fields:?}: {}", answer.text("main"));
        answer
    };
    // all at once: dimensions, hole, students
    let all = refused(&[("distance", "128"), ("reading_1", "0.5"), ("instrument", "a ruler")]).await;
    assert!(all.text("#build-error").contains("made from"));
    assert!(all.text("#whose-error").contains("tick everybody"));
    assert!(all.error_beside("reading_2").contains("two readings"));
    assert!(all.error_beside("instrument").contains("is not a length"));
    assert_eq!(all.attribute("[name=distance]", "value").as_deref(), Some("128"));

    let one = id(&student);
    let far = refused(&of(&[&one], &[("distance", "9000"), ("remark", "x")])).await;
    assert!(far.error_beside("distance").contains("to 5000 mm"), "{}", far.error_beside("distance"));
    assert_eq!(far.attribute("#whose input[checked]", "value"), Some(one.clone()), "the tick stays");
    // a hole as wide as the camera is long
    let wide = of(&[&one], &[("distance", "5"), ("reading_1", "9"), ("reading_2", "9"), ("instrument", "0.01")]);
    let wide = refused(&wide).await;
    assert!(!wide.error_beside("reading_1").is_empty(), "{}", wide.text("main"));
    // far from the 0.504 mm that a box of 128 mm asks for: 18 was thousandths of an inch
    let slipped = of(&[&one], &[("reading_1", "18"), ("reading_2", "18"), ("instrument", "0.01")]);
    let asked = refused(&slipped).await;
    assert!(asked.error_beside("sure").contains("Was it read in another unit?"), "{}", asked.text("main"));
    // nobody of another section, nobody struck off, nothing made up
    let elsewhere = app.other_section("BAY22").await;
    let stranger = app.on_roster(elsewhere, "07", "Olu Adeyemi").await.to_string();
    for whose in [stranger.as_str(), "07", "nobody"] {
        let answer = refused(&of(&[&one, whose], &[])).await;
        assert!(answer.text("#whose-error").contains("among those offered"), "{whose}");
    }
    let made_up = refused(&of(&[&one], &[("other", "sell it")])).await;
    assert!(made_up.text("main").contains("choose one of those offered"));
    assert!(cameras(&app).await.is_empty());
    assert_eq!(log_of(&app, student.student.expect("one")).await, [""; 0]);
    // a hole that really is so is taken once somebody said so
    let sure = [slipped, vec![("sure", "yes")]].concat();
    assert!(instructor.saves(&path, &sure).await.text("dl.facts").contains("hole 18.0 mm"));
}

#[tokio::test]
async fn nobody_loses_the_camera_in_their_hands_unless_that_was_said() {
    let (app, instructor, student, partner) = the_day_after().await;
    let path = path(&app).await;
    student.saves("/bench/camera", &BOX).await;
    let (one, other) = (id(&student), id(&partner));
    let held = async || {
        let (student, partner) = (student.student.expect("one"), partner.student.expect("another"));
        (number_held(&app, student).await, number_held(&app, partner).await)
    };
    let form = instructor.get(&path).await;
    assert_eq!(form.texts("#whose label")[0], "07 Teodora Vask, has camera 1");
    assert!(form.attribute("#other input[checked]", "id").is_none(), "neither answer is chosen beforehand");

    let both = of(&[&one, &other], &[("distance", "90")]);
    let refused = instructor.post(&path, &both).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.text("#other-error"), "07 has camera 1: say which of the two cameras is theirs now");
    assert_eq!(held().await, (Some(1), None));
    assert_eq!(cameras(&app).await.len(), 1);

    // the card is of a camera she had before she made another: it is among those she can take up again
    let kept = of(&[&one, &other], &[("distance", "90"), ("other", "kept")]);
    let page = instructor.saves(&path, &kept).await;
    assert!(page.text("p.saved").contains("It is camera 2"));
    assert_eq!(held().await, (Some(1), Some(2)));
    assert!(student.get("/bench/camera/new").await.text("main").contains("camera 2, box"));
    let moved = log_of(&app, student.student.expect("one")).await;
    assert_eq!(moved, ["earlier camera noted: camera 2; keeps camera 1"]);

    // a card of the camera she works with now
    instructor.saves(&path, &of(&[&one], &[("distance", "75"), ("other", "put-down")])).await;
    assert_eq!(held().await, (Some(3), Some(2)));
    assert!(student.get("/bench/camera/new").await.text("main").contains("You have camera 3 now"));
    let moved = log_of(&app, student.student.expect("one")).await;
    assert_eq!(moved[1..], ["student moved: camera 1 to 3"]);
}

#[tokio::test]
async fn the_same_card_sent_twice_is_one_camera_and_an_archived_section_takes_none() {
    let (app, instructor, student, _partner) = the_day_after().await;
    let path = path(&app).await;
    let (one, form) = (id(&student), app.state.mint::<FormId>().to_string());
    for _ in 0..2 {
        // ticked twice is still one maker
        let answer = instructor.post_as(&path, &form, &of(&[&one, &one], &[])).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
        assert!(answer.location().ends_with("/filled-cards?registered=1"), "{}", answer.location());
    }
    assert_eq!(cameras(&app).await.len(), 1);
    let mut conn = app.state.store.read().await.expect("a reader");
    let hole = store::camera::holes::find_latest(&mut conn, cameras(&app).await[0].id).await.expect("read");
    assert!(hole.is_none(), "the card gave none");
    drop(conn);
    let section = app.the_evening().await.section;
    instructor.saves(&format!("/front/sections/{section}/keeping/archive"), &[]).await;
    let answer = instructor.post(&path, &of(&[&one], &[("other", "put-down")])).await;
    assert_eq!(answer.status, StatusCode::FORBIDDEN);
    assert!(answer.text("main").contains("this section is archived"), "{}", answer.text("main"));
    assert_eq!(cameras(&app).await.len(), 1);
}
