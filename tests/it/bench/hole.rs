//! A student makes a hole, measures it, and sees what it does.

use axum::http::StatusCode;
use shimlight::store;

use crate::app::{Client, TestApp};

async fn with_can(student: &Client) {
    student
        .saves(
            "/bench/camera",
            &[("build", "side-hole can"), ("inside_diameter", "120"), ("width", "170"), ("height", "120")],
        )
        .await;
}

const CROSSED: [(&str, &str); 3] = [("reading_1", "0.46"), ("reading_2", "0.50"), ("instrument", "0.01")];

#[tokio::test]
async fn without_a_camera_the_page_says_what_to_do_first() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let page = student.get("/bench/hole").await;
    assert_eq!(page.status, StatusCode::OK);
    assert_eq!(page.attribute("main a.go", "href").as_deref(), Some("/bench/camera"));
    assert_eq!(student.post("/bench/hole", &CROSSED).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn two_crossed_readings_become_a_hole_with_its_uncertainty() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_can(&student).await;
    let before = student.get("/bench/hole").await;
    assert!(before.text("aside.caution").contains("Never look at the sun through the hole"));
    assert_eq!(before.text("p.reading .value"), "0.488 mm");
    // tools by their standards, the nearest always, with how far they are off
    let tools = before.texts("[aria-label='Tools near this size'] tbody tr");
    assert_eq!(tools.len(), 4);
    assert!(tools[2].contains("Machine needle NM 60") && tools[2].contains("+23 %, too far off"), "{tools:?}");
    assert!(before.text("main").contains("Nearest: number drill 76, 0.508 mm (+4 %)"));
    assert!(before.text("main").contains("Source: ASTM B258") && before.text("main").contains("Source: DIN 5325"));

    let page = student.saves("/bench/hole", &CROSSED).await;

    let values = page.texts("p.reading .value");
    // mean 0.48 mm; 120 / 0.48 = f/250; ovalness 0.04 / 0.48 = 8.3 %;
    // s = 0.0283, so √(s²/2 + 0.01²) = 0.0224 mm, which is 2 log2(1 + 0.0224/0.48) = 0.13 stops
    assert_eq!(values[..5], ["0.480 mm", "± 0.022 mm", "f/250", "8.3 %", "± 0.13 stops"]);
    assert!(page.text("p.reading .interval").contains("within 10 % of the target of 0.488 mm: fine, go on with it"));
    // u(N) = 250 × 0.0224 / 0.48 = 11.6
    assert!(page.texts("p.reading .interval").contains(&"from f/238 to f/262".to_owned()), "{}", page.body);
    assert!(page.text("p.saved").contains("hole recorded (camera 1, 0.480 mm)"));
    assert_eq!(page.texts("[aria-label='Holes of this camera'] tbody tr").len(), 1);
    // every number unfolds to its formula and a published source
    assert_eq!(page.texts("p.reading").len(), page.texts("p.reading + details.working .formula").len());
    assert!(page.text("main").contains("JCGM 100:2008, 4.2.3 and 5.1.2") && !page.body.contains("memory"));
    assert!(page.text("main").contains("(0.46 + 0.5) / 2 = 0.480 mm"));
    // what the readings say is what other pages compute with
    let mut conn = app.state.store.read().await.expect("a reader");
    let student_id = student.student.expect("a student");
    let camera =
        store::camera::cameras::find_of_student(&mut conn, student_id).await.expect("a read").expect("a camera");
    let hole = store::camera::holes::find_latest(&mut conn, camera.id).await.expect("a read").expect("a hole");
    assert!((hole.f_number(camera.hole_to_film()).as_number() - 250.0).abs() < 1e-9);
    assert!(student.get("/bench/camera").await.texts("p.reading .value").contains(&"f/250".to_owned()));
}

#[tokio::test]
async fn the_newest_hole_counts_and_the_older_ones_stay() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_can(&student).await;
    student.saves("/bench/hole", &CROSSED).await;
    app.state.world.clock.forward_minutes(10);
    let page = student
        .saves(
            "/bench/hole",
            &[("reading_1", "0.6"), ("reading_2", "0.6"), ("instrument", "0.01"), ("remark", "a new one")],
        )
        .await;
    assert_eq!(page.text("p.reading .value"), "0.600 mm");
    assert!(page.text("p.reading .interval").contains("23 % wider"));
    assert_eq!(page.texts("[aria-label='Holes of this camera'] tbody tr").len(), 2);
}

#[tokio::test]
async fn readings_in_thousandths_of_an_inch_are_kept_as_typed() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_can(&student).await;
    let page = student
        .saves("/bench/hole", &[("reading_1", "19.2 thou"), ("reading_2", "0.0192 in"), ("instrument", "0.0005 in")])
        .await;
    // 0.0192 in = 0.48768 mm
    assert_eq!(page.text("p.reading .value"), "0.488 mm");
    assert_eq!(page.text("[aria-label='Holes of this camera'] td:nth-of-type(3)"), "19.2 thou; 0.0192 in");
}

#[tokio::test]
async fn each_mistake_is_told_beside_its_field_and_what_was_typed_stays() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_can(&student).await;
    for (field, first, second, instrument, words) in [
        ("reading_2", "0.46", "", "0.01", "two readings are needed"),
        ("reading_1", "0", "0.5", "0.01", "must be from 0.01 mm"),
        ("reading_1", "-0.5", "0.5", "0.01", "is not a length"),
        ("reading_2", "0.46", "46", "0.01", "to 20 mm"),
        ("reading_2", "0.46", "about half", "0.01", "is not a length"),
        ("instrument", "0.46", "0.5", "", "type a length"),
        ("reading_2", "0.46", "half", "0.01", "for example 0.46 mm, 0.018 in or 18 thou"),
        ("instrument", "0.46", "0.5", "5", "to 1 mm"),
        ("instrument", "0.46", "0.5", "0", "no instrument reads without error"),
    ] {
        let fields = [("reading_1", first), ("reading_2", second), ("instrument", instrument), ("plate", "0.2")];
        let answer = student.post("/bench/hole", &fields).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{fields:?}");
        assert!(answer.error_beside(field).contains(words), "{fields:?}: {}", answer.error_beside(field));
        assert_eq!(answer.attribute("[name=reading_1]", "value").as_deref(), Some(first));
    }
    let mut conn = app.state.store.read().await.expect("a reader");
    let camera = store::camera::cameras::find_of_student(&mut conn, student.student.expect("a student")).await;
    let camera = camera.expect("a read").expect("a camera");
    assert!(store::camera::holes::list_of_camera(&mut conn, camera.id).await.expect("holes").is_empty());
}

#[tokio::test]
async fn the_plate_may_be_left_out_but_not_be_nonsense() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_can(&student).await;
    for (plate, words) in
        [("0", "must be from 0.001 mm"), ("-1", "is not a length"), ("NaN", "is not a length"), ("11", "to 10 mm")]
    {
        let mut fields = CROSSED.to_vec();
        fields.push(("plate", plate));
        let answer = student.post("/bench/hole", &fields).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{plate}");
        assert!(answer.error_beside("plate").contains(words), "{plate}: {}", answer.error_beside("plate"));
        assert_eq!(answer.attribute("[name=plate]", "value").as_deref(), Some(plate));
    }
    let mut fields = CROSSED.to_vec();
    fields.push(("plate", "0.008 in"));
    let page = student.saves("/bench/hole", &fields).await;
    let edit = page.attribute("table a[href$=edit]", "href").expect("a link to change it");
    assert_eq!(student.get(&edit).await.attribute("[name=plate]", "value").as_deref(), Some("0.008 in"));
}

#[tokio::test]
async fn an_inch_student_reads_computed_lengths_in_inches_too() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/units", &[("units", "inch"), ("back", "/bench/hole")]).await;
    student
        .saves(
            "/bench/camera",
            &[("build", "side-hole can"), ("inside_diameter", "120 mm"), ("width", "170 mm"), ("height", "120 mm")],
        )
        .await;
    let page = student
        .saves("/bench/hole", &[("reading_1", "0.0189"), ("reading_2", "0.0191"), ("instrument", "0.0005")])
        .await;
    assert_eq!(page.text("p.reading .value"), "0.0190 in (0.483 mm)");
    assert!(
        page.text("[aria-label='Holes of this camera'] td").contains("0.0190 in"),
        "{}",
        page.text("[aria-label='Holes of this camera'] td")
    );
    assert!(page.text("svg desc").contains("0.0192 in (0.488 mm)"), "{}", page.text("svg desc"));
    let camera = student.get("/bench/camera").await;
    assert_eq!(camera.text("p.reading .value"), "0.0192 in (0.488 mm)");
    let optics = student.get("/bench/hole/optics").await;
    assert!(optics.body.contains("hole diameter, thousandths of an inch"));
    let marked = student.get("/bench/hole?shaft=0.035&taper=0.35").await;
    assert!(marked.texts("p.reading .value").iter().any(|value| value.contains("in (")), "{}", marked.body);
}

#[tokio::test]
async fn a_hole_wider_than_its_camera_is_long_is_refused() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "6"), ("width", "20"), ("height", "20")]).await;
    let answer = student.post("/bench/hole", &[("reading_1", "8"), ("reading_2", "8"), ("instrument", "0.1")]).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.error_beside("reading_1").contains("wider than the 6 mm to the film"));
}

#[tokio::test]
async fn the_needles_mark_is_shown_and_nothing_is_stored() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_can(&student).await;
    let page = student.get("/bench/hole?shaft=0.9&taper=9&point=").await;
    assert_eq!(page.status, StatusCode::OK);
    // a straight taper: 9 × 0.4881 / 0.9 = 4.9 mm from the point
    assert!(page.texts("p.reading .value").contains(&"4.9 mm from the point".to_owned()), "{}", page.body);
    assert!(page.body.contains("the mark stands 4.9 mm from the point"), "the drawing says it in words");

    let thin = student.get("/bench/hole?shaft=0.3&taper=9").await;
    assert_eq!(thin.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(thin.text("[id=needle-shaft-error]").contains("take a thicker one"));
    let missing = student.get("/bench/hole?shaft=0.9").await;
    assert!(missing.text("[id=needle-taper-error]").contains("type a length"));
}

#[tokio::test]
async fn a_hole_is_changed_and_a_stale_page_is_refused_with_both_versions() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_can(&student).await;
    let page = student.saves("/bench/hole", &CROSSED).await;
    let edit = page.attribute("table a[href$=edit]", "href").expect("a link to change it");
    assert_eq!(student.get(&edit).await.attribute("[name=reading_2]", "value").as_deref(), Some("0.50 mm"));
    let with =
        |second: &'static str| [("version", "1"), ("reading_1", "0.46"), ("reading_2", second), ("instrument", "0.01")];
    let changed = student.saves(&edit, &with("0.48")).await;
    assert_eq!(changed.text("p.reading .value"), "0.470 mm");
    let stale = student.post(&edit, &with("0.52")).await;
    assert_eq!(stale.status, StatusCode::CONFLICT);
    assert_eq!(stale.texts("tr.differs td"), ["0.46 mm; 0.52 mm", "0.46 mm; 0.48 mm"]);

    let other = app.student(app.the_evening().await.section, "11", "Bram Okafor").await;
    assert_eq!(other.get(&edit).await.status, StatusCode::NOT_FOUND);
    assert_eq!(other.post(&edit, &with("0.9")).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn of_a_hole_many_times_off_it_is_asked_whether_the_unit_slipped() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_can(&student).await;
    assert!(!student.get("/bench/hole").await.body.contains("name=\"sure\""), "asked only then");
    // thousandths of an inch, typed as millimetres
    let slipped = [("reading_1", "19"), ("reading_2", "19.5"), ("instrument", "0.01")];
    let asked = student.post("/bench/hole", &slipped).await;
    assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY);
    let question = asked.error_beside("sure");
    assert!(question.contains("19.3 mm is several times wider") && question.contains("18 thou"), "{question}");
    assert_eq!(asked.attribute("[name=reading_2]", "value").as_deref(), Some("19.5"), "what was typed stays");
    assert_eq!(asked.attribute("[name=sure][checked]", "value"), None, "nothing is ticked for anybody");
    assert_eq!(student.get("/bench/hole").await.texts("[aria-label='Holes of this camera'] tbody tr").len(), 0);

    // a nail hole that really is so wide is recorded, and called by its name
    let nail = [("reading_1", "2.4"), ("reading_2", "2.5"), ("instrument", "0.05")];
    assert_eq!(student.post("/bench/hole", &nail).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let page = student.saves("/bench/hole", &[nail[0], nail[1], nail[2], ("sure", "yes")]).await;
    let words = page.text("p.reading");
    assert!(words.contains("times the target") && !words.contains("usable"), "{words}");
    // the same is asked of a correction
    let edit = page.attribute("[aria-label='Holes of this camera'] a", "href").expect("a link");
    let narrow = [("reading_1", "0.02"), ("reading_2", "0.02"), ("instrument", "0.01"), ("version", "1")];
    let asked = student.post(&edit, &narrow).await;
    assert!(asked.error_beside("sure").contains("several times narrower"), "{}", asked.text("main"));
}

#[tokio::test]
async fn an_instrument_too_coarse_for_the_hole_is_named() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_can(&student).await;
    let fine = student.saves("/bench/hole", &CROSSED).await;
    assert!(!fine.text("main").contains("measure with something finer"));
    let coarse = [("reading_1", "0.46"), ("reading_2", "0.50"), ("instrument", "0.2")];
    let page = student.saves("/bench/hole", &coarse).await;
    assert!(page.text("main").contains("off by more than a quarter of the hole"), "{}", page.text("main"));
}
