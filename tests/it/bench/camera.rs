//! A student registers a camera and is told which hole to make.

use axum::http::StatusCode;
use shimlight::store;

use crate::app::{Answer, TestApp};

/// The can of the eight-second rule of thumb: inside diameter 120 mm.
const CAN: [(&str, &str); 4] =
    [("build", "side-hole can"), ("inside_diameter", "120"), ("width", "170"), ("height", "120")];

#[tokio::test]
async fn the_eight_second_can_is_told_to_have_a_hole_of_half_a_millimetre() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let form = student.get("/bench/camera").await;
    assert_eq!(form.text("h1"), "Your camera");

    let page = student.saves("/bench/camera", &CAN).await;

    // d = C √(λ f) = 1.9 × √(0.00055 mm × 120 mm) = 0.488 mm, with the session's constant and wavelength
    assert_eq!(page.text("h1"), "Camera 1");
    let values = page.texts("p.reading .value");
    assert_eq!(values[0], "0.488 mm");
    assert_eq!(values[1], "0.49 mm");
    assert_eq!(page.text("p.reading .interval"), "or 19.2 thousandths of an inch");
    assert!(values.iter().any(|value| value == "f/246"), "{values:?}");
    // inscribed angle: 170 mm of arc in a can 120 mm across is seen under 170/120 rad = 81.2 degrees
    assert!(values.iter().any(|value| value.starts_with("81.2° by 53.1°")), "{values:?}");
    // the inverse for the hole a micrometer sets: (0.49 / 1.9)² / 0.00055 = 121 mm
    assert!(values.iter().any(|value| value == "121 mm"), "{values:?}");
    assert!(page.text("details.working .formula").contains("1.9 × √(0.00055 mm × 120 mm)"), "{}", page.body);
    assert!(page.texts("table tbody th").iter().any(|tool| tool.starts_with("Number drill 76")));
    assert!(page.text("p.saved").contains("camera registered (camera 1, side-hole can)"), "{}", page.text("p.saved"));
}

#[tokio::test]
async fn a_box_measured_in_inches_keeps_what_was_typed() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let page = student
        .saves("/bench/camera", &[("build", "box"), ("distance", "4 3/4 in"), ("width", "4 in"), ("height", "5 in")])
        .await;
    let facts = page.texts("dl.facts dd");
    assert!(facts.contains(&"4 3/4 in (120.65 mm)".to_owned()), "{facts:?}");
    // 1.9 × √(0.00055 × 120.65) = 0.4895 mm
    assert_eq!(page.text("p.reading .value"), "0.489 mm");
    let edit = student.get(&page.attribute("a[href$=edit]", "href").expect("a link to change it")).await;
    assert_eq!(edit.attribute("input[name=distance]", "value").as_deref(), Some("4 3/4 in"));
    assert_eq!(edit.attribute("input[name=build][checked]", "value").as_deref(), Some("box"));
}

#[tokio::test]
async fn every_other_shape_can_be_registered() {
    let (app, _anon, _instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let body_cap = [("build", "body cap"), ("distance", "45.5"), ("width", "36"), ("height", "24")];
    let disc = [("build", "end-hole can disc"), ("distance", "150"), ("diameter", "95")];
    let cut_square = [("build", "end-hole can rectangle"), ("distance", "150"), ("width", "60"), ("height", "70")];
    let shapes: [&[(&str, &str)]; 3] = [&body_cap, &disc, &cut_square];
    for (fields, roster_number) in shapes.into_iter().zip(["21", "22", "23"]) {
        let student = app.student(evening.section, roster_number, "Odile Marsh").await;
        let page = student.saves("/bench/camera", fields).await;
        assert!(!page.text("p.reading .value").is_empty(), "{fields:?}");
        assert_eq!(page.body.contains("skips the trays"), fields[0].1 == "body cap", "{fields:?}");
    }
}

#[tokio::test]
async fn a_near_subject_is_taken_into_account() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let mut fields = CAN.to_vec();
    fields.push(("subject", "1 m"));
    let page = student.saves("/bench/camera", &fields).await;
    // 1/f' = 1/120 + 1/1000, so d = 1.9 × √(0.00055 × 107.14) = 0.461 mm
    assert_eq!(page.text("p.reading .value"), "0.461 mm");
}

#[tokio::test]
async fn each_mistake_is_told_beside_its_field_and_what_was_typed_stays() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let can = |inside, width, height| {
        [("build", "side-hole can"), ("inside_diameter", inside), ("width", width), ("height", height)]
    };
    for (field, fields, words) in [
        ("inside_diameter", can("0", "170", "120"), "must be from 10 mm"),
        ("inside_diameter", can("-120", "170", "120"), "is not a length"),
        ("inside_diameter", can("NaN", "170", "120"), "is not a length"),
        ("inside_diameter", can("", "170", "120"), "type a length"),
        ("width", can("120", "400", "120"), "longer than the can is round"),
        ("height", can("120", "170", "9000000"), "to 3000 mm"),
    ] {
        let answer = student.post("/bench/camera", &fields).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{fields:?}");
        assert!(answer.error_beside(field).contains(words), "{field}: {}", answer.error_beside(field));
        let typed = fields.iter().find(|(name, _)| *name == field).expect("it was sent").1;
        assert_eq!(answer.attribute(&format!("input[name={field}]"), "value").as_deref(), Some(typed));
    }
    let unchosen = student.post("/bench/camera", &[("distance", "120")]).await;
    assert!(unchosen.text("[id=build-error]").contains("choose what your camera is made from"));
    let inside = student
        .post(
            "/bench/camera",
            &[("build", "box"), ("distance", "120"), ("width", "1"), ("height", "1"), ("subject", "2")],
        )
        .await;
    assert!(inside.error_beside("subject").contains("inside the camera"), "{}", inside.error_beside("subject"));
    // all at once, not one at a time
    let all = student.post("/bench/camera", &can("nothing", "", "wide")).await;
    assert_eq!(all.texts("form .error").len(), 3, "{:?}", all.texts(".error"));

    let mut conn = app.state.store.read().await.expect("a reader");
    let none =
        store::camera::cameras::list_of_section(&mut conn, app.the_evening().await.section).await.expect("cameras");
    assert!(none.is_empty(), "a refused form leaves nothing behind");
}

#[tokio::test]
async fn partners_share_a_camera_by_its_number_and_a_roster_number() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let partner = app.student(app.the_evening().await.section, "11", "Bram Okafor").await;
    student.saves("/bench/camera", &CAN).await;

    let wrong = partner.post("/bench/camera/join", &[("number", "1"), ("partner", "12")]).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.text("[id=join-number-error]").contains("nobody with that roster number"));
    assert_eq!(wrong.attribute("[name=partner]", "value").as_deref(), Some("12"));

    let joined = partner.saves("/bench/camera/join", &[("number", "1"), ("partner", "07")]).await;
    assert_eq!(joined.text("h1"), "Camera 1");
    assert!(joined.body.contains("yours and Teodora Vask"));
    assert!(student.get("/bench/camera").await.body.contains("yours and Bram Okafor"));
}

#[tokio::test]
async fn a_second_camera_takes_the_place_of_the_first_in_its_makers_hands() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &CAN).await;
    assert!(student.get("/bench/camera/new").await.body.contains("You have camera 1 now"));
    let second = student
        .saves("/bench/camera", &[("build", "box"), ("distance", "90"), ("width", "100"), ("height", "125")])
        .await;
    assert_eq!(second.text("h1"), "Camera 2");
    let mut conn = app.state.store.read().await.expect("a reader");
    let all =
        store::camera::cameras::list_of_section(&mut conn, app.the_evening().await.section).await.expect("cameras");
    assert_eq!(all.len(), 2, "the first one stays on record");
}

#[tokio::test]
async fn another_students_camera_can_be_neither_seen_nor_changed() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let page = student.saves("/bench/camera", &CAN).await;
    let edit = page.attribute("a[href$=edit]", "href").expect("a link to change it");
    let other = app.student(app.the_evening().await.section, "11", "Bram Okafor").await;
    assert_eq!(other.get(&edit).await.status, StatusCode::NOT_FOUND);
    let mut fields = CAN.to_vec();
    fields.push(("version", "1"));
    assert_eq!(other.post(&edit, &fields).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn an_edit_from_a_stale_page_is_refused_with_both_versions() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let partner = app.student(app.the_evening().await.section, "11", "Bram Okafor").await;
    let page = student.saves("/bench/camera", &CAN).await;
    partner.saves("/bench/camera/join", &[("number", "1"), ("partner", "07")]).await;
    let edit = page.attribute("a[href$=edit]", "href").expect("a link to change it");
    let with = |inside: &'static str| {
        [("version", "1"), ("build", "side-hole can"), ("inside_diameter", inside), ("width", "170"), ("height", "120")]
    };
    let saved = student.saves(&edit, &with("118")).await;
    assert_eq!(saved.text("p.reading .value"), "0.484 mm");

    let refused = partner.post(&edit, &with("122")).await;
    assert_eq!(refused.status, StatusCode::CONFLICT);
    let differing = refused.texts("tr.differs td");
    assert_eq!(differing, ["122 mm", "118 mm"]);
    assert_eq!(student.get("/bench/camera").await.text("p.reading .value"), "0.484 mm");
}

#[tokio::test]
async fn a_camera_cannot_become_shorter_than_its_hole_is_wide() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let with = |distance: &'static str| {
        [("version", "1"), ("build", "box"), ("distance", distance), ("width", "100"), ("height", "100")]
    };
    let page = student.saves("/bench/camera", &with("120")).await;
    student
        .saves("/bench/hole", &[("reading_1", "8"), ("reading_2", "8"), ("instrument", "0.1"), ("sure", "yes")])
        .await;
    let edit = page.attribute("a[href$=edit]", "href").expect("a link to change it");
    let answer = student.post(&edit, &with("6")).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.error_beside("distance").contains("correct the hole first"));
    assert_eq!(answer.attribute("[name=distance]", "value").as_deref(), Some("6"));
}

#[tokio::test]
async fn the_same_form_sent_twice_makes_one_camera() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let form = "0195af00-0000-7000-8000-000000000001";
    let first = student.post_as("/bench/camera", form, &CAN).await;
    let second = student.post_as("/bench/camera", form, &CAN).await;
    assert_eq!((first.status, second.status), (StatusCode::SEE_OTHER, StatusCode::SEE_OTHER));
    assert_eq!(first.location(), second.location());
    let mut conn = app.state.store.read().await.expect("a reader");
    let all =
        store::camera::cameras::list_of_section(&mut conn, app.the_evening().await.section).await.expect("cameras");
    assert_eq!(all.len(), 1);
}

#[tokio::test]
async fn what_follows_is_shown_while_the_measures_are_still_being_typed() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let half = student.get("/bench/camera/as-typed?build=box&distance=128&width=").await;
    assert!(half.text("p.note").contains("as you type") && half.texts("p.reading").is_empty());
    let typed =
        student.get("/bench/camera/as-typed?build=box&distance=128&width=127&height=102&diameter=&subject=").await;
    // the same as the page after saving: nothing is reckoned twice
    let page = student
        .saves("/bench/camera", &[("build", "box"), ("distance", "128"), ("width", "127"), ("height", "102")])
        .await;
    assert_eq!(typed.text("p.reading .value"), page.text("p.reading .value"));
    assert!(typed.body.contains("<svg") && typed.text("p.note").contains("not saved yet"));

    let hole = student.get("/bench/hole/as-typed?reading_1=0.5&reading_2=0.5&instrument=0.01").await;
    let page =
        student.saves("/bench/hole", &[("reading_1", "0.5"), ("reading_2", "0.5"), ("instrument", "0.01")]).await;
    assert_eq!(hole.texts("p.reading .value"), page.texts("p.reading .value")[..hole.texts("p.reading .value").len()]);
    assert!(student.get("/bench/hole/as-typed?reading_1=0.5").await.text("p.note").contains("as you type"));
}

#[tokio::test]
async fn four_by_five_typed_for_inches_into_millimetres_is_no_sheet_of_a_box() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let typed = [("build", "box"), ("distance", "4 3/4 in"), ("width", "4"), ("height", "5")];
    let answer = student.post("/bench/camera", &typed).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    for field in ["width", "height"] {
        assert!(answer.error_beside(field).contains("from 15 mm"), "{}", answer.error_beside(field));
    }
    // a frame in a body cap may be that small
    let typed = [("build", "body cap"), ("distance", "45"), ("width", "11"), ("height", "8")];
    let answer = student.post("/bench/camera", &typed).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text("main"));
}

#[tokio::test]
async fn a_subject_nearer_than_the_film_is_said_to_come_out_larger_than_life() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let near = |distance| [&CAN[..], &[("subject", distance)]].concat();
    let warned = |page: &Answer| page.text("main").contains("nearer to the hole than the film is");
    let page = student.saves("/bench/camera", &near("80 mm")).await;
    assert!(warned(&page), "{}", page.text("main"));
    // 120 mm / 80 mm
    assert!(page.texts("p.reading .value").contains(&"1.50 times".to_owned()), "{:?}", page.texts("p.reading"));
    let typed = "build=side-hole+can&inside_diameter=120&width=170&height=120&subject=80+mm";
    assert!(student.get(&format!("/bench/camera/as-typed?{typed}")).await.body.contains("nearer to the hole"));
    assert!(!warned(&student.saves("/bench/camera", &near("1 m")).await));
    // nearer still it would be inside the camera, and is refused
    let refused = student.post("/bench/camera", &near("5 mm")).await;
    assert!(refused.error_beside("subject").contains("inside the camera"));
}

#[tokio::test]
async fn a_camera_put_down_is_taken_up_again_with_its_hole_and_by_nobody_else() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &CAN).await;
    student.saves("/bench/hole", &[("reading_1", "0.5"), ("reading_2", "0.5"), ("instrument", "0.01")]).await;
    let first = student.get("/bench/camera/new").await;
    assert!(!first.body.contains("/again"), "the camera in hand is not offered");
    student.saves("/bench/camera", &[("build", "box"), ("distance", "90"), ("width", "100"), ("height", "125")]).await;
    let page = student.get("/bench/camera/new").await;
    assert!(page.text("#earlier-cameras ~ ul li").contains("camera 1, side-hole can"), "{}", page.text("main"));
    let again = page.attribute("form[action$='/again']", "action").expect("a way back to it");
    let other = app.student(app.the_evening().await.section, "11", "Bram Okafor").await;
    assert_eq!(other.post(&again, &[]).await.status, StatusCode::NOT_FOUND);
    let page = student.saves(&again, &[]).await;
    assert_eq!(page.text("h1"), "Camera 1");
    assert!(page.text("p.saved").contains("camera taken up again (camera 1, side-hole can)"));
    assert!(student.get("/bench/hole").await.text("main").contains("0.500 mm"));
    assert_eq!(student.post(&again, &[]).await.status, StatusCode::NOT_FOUND, "it is in hand already");
}
