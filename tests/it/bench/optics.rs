//! A student looks at what the hole does: sharpness, the picture, the field.

use axum::http::{StatusCode, header};

use crate::app::{Client, TestApp};

async fn with_camera(student: &Client) {
    student.saves("/bench/camera", &[("build", "box"), ("distance", "75"), ("width", "120"), ("height", "90")]).await;
}

async fn with_hole(student: &Client, plate: &str) {
    let fields = [("reading_1", "0.38"), ("reading_2", "0.40"), ("instrument", "0.01"), ("plate", plate)];
    student.saves("/bench/hole", &fields).await;
}

#[tokio::test]
async fn the_sharpest_hole_is_folded_beside_the_one_target() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_camera(&student).await;
    let page = student.get("/bench/hole").await;
    // d = 1.9 × √(0.00055 × 75) = 0.386 mm; theory: 1.6094 × 0.2031 = 0.327 mm
    assert_eq!(page.text("p.reading .value"), "0.386 mm");
    let folded = page.text("details.working:not([open])");
    assert!(folded.contains("d = C √(λ f′)"), "the target's own working comes first: {folded}");
    let aside = page.texts("details").into_iter().find(|text| text.contains("Is this the sharpest hole?"));
    let aside = aside.expect("folded beside it");
    for words in [
        "sharpest hole for this camera is 0.327 mm",
        "6.5 % softer",
        "1.39 times the light, 0.48 stops more",
        "about 460 nm",
        "8.5 % narrower",
        "matters more than which constant",
        "0.48 stops more Working: Light that the target passes against it",
        "0.249 mm to 0.400 mm",
        "the finest lines that keep a fifth",
        "daylight on paper that sees blue and green",
        "The target stays what the session’s formula gives",
    ] {
        assert!(aside.contains(words), "{words}: {aside}");
    }
    assert!(page.text("ol").contains("from 0.249 mm to 0.400 mm its sharpness stays within ten per cent"));
    // nothing outside the fold names a second hole to make
    let unfolded = page.texts("p.reading .value").iter().filter(|value| value.as_str() == "0.386 mm").count();
    assert_eq!(unfolded, 1);
    assert!(page.attribute("details[open]", "class").is_none(), "all is folded");
}

#[tokio::test]
async fn a_hole_as_measured_is_set_against_the_sharpest_and_drawn() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    assert_eq!(student.get("/bench/hole/optics").await.text("h1"), "What the hole does", "without a camera");
    with_camera(&student).await;
    let before = student.get("/bench/hole/optics").await;
    assert!(before.text("main").contains("the target, since no hole is measured yet, 0.386 mm"));
    with_hole(&student, "").await;

    let page = student.get("/bench/hole/optics").await;

    let values = page.texts("p.reading .value");
    // 0.39 mm is C = 1.92 of 550 nm: some 93 % as steep as at 1.609
    let share: f64 = values[0].trim_end_matches(" %").parse().expect("a percentage");
    assert!((91.0..94.0).contains(&share), "{values:?}");
    assert!(values[1].ends_with("line pairs per mm"), "{values:?}");
    // the corner lies 45 degrees off: its lines are those of 75 / cos³45° = 212 mm and of 106 mm
    assert!(values[2].ends_with("per mm") && page.body.contains("= 212 mm and v / cos θ = 106 mm"), "{values:?}");
    let said = page.texts("svg desc");
    assert!(said[0].contains("The hole as measured is 0.390 mm: 9"), "{said:?}");
    assert!(said[1].contains("Light lost over a flat sheet") && said[1].contains("at most 2.0 stops"), "{said:?}");
    // reference O064 and O072: 150 mm to two stops at 75 mm, which is all of a film of 120 by 90
    assert!(values.contains(&"150 mm".to_owned()) && values.contains(&"100 %".to_owned()), "{values:?}");
    assert!(values.contains(&"1 : 66.7".to_owned()), "5 m away at 75 mm: {values:?}");
    // every number unfolds to its formula and its source
    assert_eq!(page.texts("p.reading").len(), page.texts("details.working .formula").len() - 2, "two drawings besides");
    assert!(page.texts("details.working").iter().all(|text| text.contains("Source:")), "{}", page.body);
    assert!(page.text("p.empty").contains("Say how thick the plate is"));
}

#[tokio::test]
async fn a_thick_plate_cuts_the_picture_s_corners() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_camera(&student).await;
    with_hole(&student, "0.5").await;
    let page = student.get("/bench/hole/optics").await;
    // atan(0.39 / 0.5) = 38.0 degrees; circle 2 × 75 × 0.39 / 0.5 = 117 mm
    assert!(page.texts("p.reading .value").contains(&"38.0° off the axis".to_owned()), "{}", page.body);
    assert!(page.texts("p.reading .interval").iter().any(|words| words.contains("a circle 117 mm across")));
    let said = page.texts("svg desc").join(" ");
    assert!(said.contains("a plate 0.50 mm thick") && said.contains("no light reaches it"), "{said}");
    assert!(page.body.contains("beyond the heavy line no light"));
}

#[tokio::test]
async fn three_pictures_show_too_narrow_as_measured_and_too_wide() {
    let (app, anon, _instructor, student) = TestApp::with_open_session().await;
    with_camera(&student).await;
    with_hole(&student, "").await;
    let page = student.get("/bench/hole/optics").await;
    let names = page.texts(".seen strong");
    // the sharpest is 0.327 mm: a third of it, the student's own, twice it
    assert_eq!(names, ["Too narrow: 0.109 mm.", "As measured: 0.390 mm.", "Too wide: 0.654 mm."]);
    assert!(page.texts(".seen figcaption")[1].contains("the finest still told apart"), "{}", page.body);
    let mut sizes = Vec::new();
    for place in 1..=3 {
        let selector = format!(".seen figure:nth-child({place}) img");
        let address = page.attribute(&selector, "src").expect("an address");
        assert!(page.attribute(&selector, "alt").expect("words").contains("The test figure through a hole of"));
        let picture = student.get(&address).await;
        assert_eq!(picture.status, StatusCode::OK, "{address}");
        assert_eq!(picture.headers[header::CONTENT_TYPE], "image/png");
        assert!(picture.headers[header::CACHE_CONTROL].to_str().expect("text").contains("immutable"));
        assert!(picture.body.contains("IHDR"));
        sizes.push(picture.body.len());
        // the same again comes from what was kept
        assert_eq!(student.get(&address).await.body.len(), picture.body.len());
        assert_eq!(anon.get(&address).await.status, StatusCode::SEE_OTHER, "nobody else");
    }
    assert!(sizes.iter().all(|size| *size > 1000), "{sizes:?}");

    // other numbers than one's own are no picture
    let other = app.student(app.the_evening().await.section, "11", "Bram Okafor").await;
    let address = page.attribute(".seen img", "src").expect("an address");
    assert_eq!(other.get(&address).await.status, StatusCode::NOT_FOUND);
    for nonsense in
        ["1-1-far-paper.png", "0-0-0-0.png", "-1-NaN-far-paper.png", "999999999999999999999-1-far-paper.png"]
    {
        let answer = student.get(&format!("/bench/hole/optics/seen/{nonsense}")).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{nonsense}");
    }
}

#[tokio::test]
async fn every_shape_of_camera_has_its_optics() {
    let (app, _anon, _instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let can = [("build", "side-hole can"), ("inside_diameter", "120"), ("width", "170"), ("height", "120")];
    let disc = [("build", "end-hole can disc"), ("distance", "150"), ("diameter", "95"), ("subject", "2 m")];
    let cap = [("build", "body cap"), ("distance", "45.5"), ("width", "36"), ("height", "24")];
    for (fields, roster_number, words) in [
        (can, "21", "Light lost over a sheet bent along the can’s wall"),
        (disc, "22", "Light lost over a round sheet"),
        (cap, "23", "in the light of the session’s formula"),
    ] {
        let student = app.student(evening.section, roster_number, "Odile Marsh").await;
        student.saves("/bench/camera", &fields).await;
        let page = student.get("/bench/hole/optics").await;
        assert_eq!(page.status, StatusCode::OK);
        assert!(page.body.contains(words), "{words}: {}", page.text("main"));
    }
}

/// A box six millimetres long with a hole five wide: nothing but the hole's own shadow.
#[tokio::test]
async fn a_hole_that_is_hardly_one_is_still_answered() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "6"), ("width", "20"), ("height", "20")]).await;
    student.saves("/bench/hole", &[("reading_1", "5.5"), ("reading_2", "5.5"), ("instrument", "0.1")]).await;
    let page = student.get("/bench/hole/optics").await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.text("main").contains("Nothing but a blur as wide as the hole itself"), "{}", page.text("main"));
    assert!(page.text("main").contains("plainly soft"));
}
