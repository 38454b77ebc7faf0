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
        // the session's paper sees blue and green: C = 1.591 of its mean, 471 nm, is 0.299 mm
        "In the light your paper sees: daylight on paper that sees blue and green",
        "sharpest hole in this light is 0.299 mm",
        "Sharpness of the target in this light",
        "Holes that are sharp within a tenth in this light",
        "the finest lines that keep a fifth: d = C √(λ f′) = 1.52",
        "film that sees all colours, 400 to 650 nm evenly",
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
    let unfolded_count = page.texts("p.reading .value").iter().filter(|value| value.as_str() == "0.386 mm").count();
    assert_eq!(unfolded_count, 1);
    assert!(page.attribute("details[open]", "class").is_none(), "all is folded");
}

#[tokio::test]
async fn one_range_is_named_to_make_the_hole_by_and_the_other_is_folded() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "75"), ("width", "127"), ("height", "102")]).await;
    let range = "0.249 mm to 0.400 mm";
    assert!(student.get("/bench/hole").await.text("ol").contains("from 0.249 mm to 0.400 mm"));
    let optics = student.get("/bench/hole/optics").await;
    let open = unfolded(&optics.body);
    assert!(open.contains("Make the hole within") && open.contains(range), "{open}");
    assert!(open.contains("There is nothing to fill in"), "{open}");
    assert!(!open.contains("sees: daylight") && !open.contains("in your paper’s light"), "{open}");
    let folded = optics.texts("details").into_iter().find(|text| text.starts_with("In the light your paper sees"));
    let folded = folded.expect("folded");
    assert!(folded.contains("make the hole by the range of the session’s light"), "{folded}");
}

/// What stands on a page outside everything that is folded.
fn unfolded(html: &str) -> String {
    let (mut open, mut depth, mut rest) = (String::new(), 0, html);
    loop {
        let next = ["<details", "</details>"].into_iter().filter_map(|tag| Some((rest.find(tag)?, tag))).min();
        let Some((at, tag)) = next else {
            open.push_str(rest);
            return open;
        };
        if depth == 0 {
            open.push_str(&rest[..at]);
        }
        depth += if tag == "<details" { 1 } else { -1 };
        rest = &rest[at + tag.len()..];
    }
}

#[tokio::test]
async fn the_bench_and_the_card_never_name_a_second_hole_to_make() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    with_camera(&student).await;
    for measured in [false, true] {
        if measured {
            with_hole(&student, "0.1").await;
        }
        for address in ["/bench", "/bench/camera", "/bench/hole", "/bench/hole/optics", "/bench/exposures"] {
            let page = student.get(address).await;
            assert_eq!(page.status, StatusCode::OK, "{address}");
            let open = unfolded(&page.body);
            // theory's sharpest for this camera, in the session's light and in the paper's, and its words
            for second in ["0.327", "0.299", "theory’s sharpest"] {
                assert!(!open.contains(second), "{second} stands open on {address}: {open}");
            }
            if address.starts_with("/bench/hole") {
                assert!(page.body.contains("0.327"), "folded on {address}");
            }
        }
    }
    let card = instructor.get(&format!("/front/sessions/{}/cards", app.the_evening().await.session)).await;
    assert_eq!(card.status, StatusCode::OK);
    assert!(card.body.contains("0.39 mm"), "the target, on the micrometer: {}", card.text("main"));
    for second in ["0.327", "0.33 mm", "0.299", "0.30 mm", "sharpest"] {
        assert!(!card.body.contains(second), "{second}: {}", card.text("main"));
    }
}

/// The instructor says which colours the paper sees, and every picture and number follows.
#[tokio::test]
async fn the_paper_s_card_decides_in_which_light_the_picture_is_drawn() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    with_camera(&student).await;
    let before = student.get("/bench/hole/optics").await;
    assert!(before.text("main").contains("paper that sees blue and green (360 to 550 nm"), "{}", before.text("main"));
    assert!(before.text("main").contains("those on the card of the session’s paper"));
    let picture = |page: &crate::app::Answer| page.attribute(".seen img", "src").expect("a picture");
    assert!(picture(&before).contains("-bluegreen-540.png"), "{}", picture(&before));

    let paper = app.the_evening().await.paper;
    let address = format!("/front/stockroom/papers/{paper}");
    let card = instructor.get(&address).await;
    assert_eq!(card.attribute("select[name=sees] option[selected]", "value").as_deref(), Some("blue and green"));
    let with = |sees: &'static str| {
        [
            ("version", "1"),
            ("kind", "paper"),
            ("base", "resin-coated"),
            ("sees", sees),
            ("name", "Graded paper"),
            ("exposure_index", "6"),
            ("reciprocity", "1"),
            ("threshold", "1"),
            ("silver_low", "0.35"),
            ("silver", "0.97"),
            ("silver_high", "1.61"),
            ("carry_over", "35"),
        ]
    };
    for (nonsense, words) in [("all colours", "does not see all colours"), ("infrared", "choose")] {
        let refused = instructor.post(&address, &with(nonsense)).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{nonsense}");
        assert!(refused.error_beside("sees").contains(words), "{nonsense}: {}", refused.error_beside("sees"));
    }
    instructor.saves(&address, &with("blue")).await;
    assert!(instructor.get("/front/stockroom").await.text("main").contains("sees blue"));

    let after = student.get("/bench/hole/optics").await;
    assert!(after.text("main").contains("paper that sees blue only (360 to 500 nm"), "{}", after.text("main"));
    assert!(picture(&after).contains("-blue-540.png"), "{}", picture(&after));
    assert_eq!(student.get(&picture(&after)).await.status, StatusCode::OK);
    assert_eq!(student.get(&picture(&before)).await.status, StatusCode::NOT_FOUND, "no longer this camera's picture");
    instructor
        .saves(&address, &{
            let mut silent = with("");
            silent[0].1 = "2";
            silent
        })
        .await;
    assert!(student.get("/bench/hole/optics").await.text("main").contains("does not say which colours it sees"));
}

#[tokio::test]
async fn a_film_beyond_85_degrees_is_told_so_and_a_can_says_how_much_of_it_is_lit() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "10"), ("width", "250"), ("height", "200")]).await;
    let page = student.get("/bench/hole/optics").await;
    // atan(160.08 / 10) = 86.43 degrees
    let said = page.text("main");
    assert!(said.contains("Finest lines 85° off straight ahead"), "{said}");
    assert!(said.contains("your film reaches 86.43° off, and diffraction is worked out from 0 to 85°"), "{said}");

    let can = [("build", "side-hole can"), ("inside_diameter", "60"), ("width", "60"), ("height", "200")];
    let student = app.student(app.the_evening().await.section, "21", "Odile Marsh").await;
    student.saves("/bench/camera", &can).await;
    let page = student.get("/bench/hole/optics").await;
    // 4 D² sin(a / 2D) = 4 × 3600 × sin(0.5) = 6904 mm² of 12000
    assert!(page.texts("p.reading .value").contains(&"57.5 %".to_owned()), "{}", page.text("main"));
    assert!(page.body.contains("6904 mm² of 60 × 200 mm"), "{}", page.text("main"));
    let drawn = page.texts("svg title");
    for title in ["The camera in section, seen from above", "The camera in section, seen from the side"] {
        assert!(drawn.contains(&title.to_owned()), "{drawn:?}");
    }
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
    assert_eq!(values[1], "0.249 mm to 0.400 mm", "the range of the page of the hole");
    assert!(values[2].ends_with("line pairs per mm"), "{values:?}");
    // the corner lies 45 degrees off: its lines are those of 75 / cos³45° = 212 mm and of 106 mm
    assert!(values[3].ends_with("per mm") && page.body.contains("= 212 mm and v / cos θ = 106 mm"), "{values:?}");
    let said = page.texts("svg desc");
    assert!(said[0].contains("The hole as measured is 0.390 mm: 9"), "{said:?}");
    assert!(
        said.iter().any(|words| words.contains("Light lost over a flat sheet") && words.contains("at most 2.0 stops")),
        "{said:?}"
    );
    // cases O064 and O072 of tests/reference: 150 mm to two stops at 75 mm, which is all of a film of 120 by 90
    assert!(values.contains(&"150 mm".to_owned()) && values.contains(&"100 %".to_owned()), "{values:?}");
    assert!(values.contains(&"1 : 66.7".to_owned()), "5 m away at 75 mm: {values:?}");
    // every number unfolds to its formula and its source
    assert_eq!(page.texts("p.reading").len(), page.texts("p.reading + details.working .formula").len());
    let workings = page.text("main");
    for words in [
        "As measured: d = 0.390 mm, v = 75 mm, mean λ = 0.000471 mm: N = d²",
        "at ν = 4 per mm (0.125 mm)",
        "1 stops: r = v √(2^(k/2) − 1) = 75 mm × √(2^(1 / 2) − 1) = 48.3 mm",
    ] {
        assert!(workings.contains(words), "{words}: {workings}");
    }
    for from_memory in ["memory", "scipy", "numpy"] {
        assert!(!page.body.contains(from_memory), "{from_memory}");
    }
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

/// A sheet of 120 by 90 mm at 75 mm reaches 45 degrees off: a point is spread wider there, and the working says both.
#[tokio::test]
async fn the_page_says_how_wide_half_of_a_point_s_light_spreads_at_the_corner() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_camera(&student).await;
    with_hole(&student, "").await;
    let page = student.get("/bench/hole/optics").await;
    let values = page.texts("p.reading .value");
    let said = values.iter().find(|value| value.contains("straight ahead")).unwrap_or_else(|| panic!("{values:?}"));
    let numbers: Vec<f64> = said.split(' ').filter_map(|word| word.parse().ok()).collect();
    assert!(numbers.len() == 2 && numbers[0] > 1.2 * numbers[1] && numbers[1] > 0.05, "{said}");
    assert!(page.texts("details.working").iter().any(|text| text.contains("straight ahead") && text.contains("J₁")));
}

#[tokio::test]
async fn three_pictures_show_too_narrow_as_measured_and_too_wide() {
    let (app, anon, _instructor, student) = TestApp::with_open_session().await;
    with_camera(&student).await;
    with_hole(&student, "").await;
    let page = student.get("/bench/hole/optics").await;
    // 54 by 36 mm: 204 by 136 of the 96 pixels in an inch
    assert!(page.text("main").contains("A piece 54 by 36 mm from the middle of your contact print (120 mm by 90 mm)"));
    assert_eq!(page.attribute(".seen img", "width").as_deref(), Some("204"));
    assert_eq!(page.attribute(".loupe img", "width").as_deref(), Some("612"));
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
        (cap, "23", "A camera whose film skips the trays is taken to hold panchromatic film"),
    ] {
        let student = app.student(evening.section, roster_number, "Odile Marsh").await;
        student.saves("/bench/camera", &fields).await;
        let page = student.get("/bench/hole/optics").await;
        assert_eq!(page.status, StatusCode::OK);
        assert!(page.body.contains(words), "{words}: {}", page.text("main"));
    }
}

/// A box six millimetres long with a hole more than five wide: nothing but the hole's own shadow.
#[tokio::test]
async fn a_hole_that_is_hardly_one_is_still_answered() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "6"), ("width", "20"), ("height", "20")]).await;
    student
        .saves("/bench/hole", &[("reading_1", "5.5"), ("reading_2", "5.5"), ("instrument", "0.1"), ("sure", "yes")])
        .await;
    let page = student.get("/bench/hole/optics").await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.text("main").contains("None of the bars can be told apart"), "{}", page.text("main"));
    // half as wide again: past the range that is worked out
    assert!(page.text("main").contains("Nothing but a blur as wide as the hole itself"), "{}", page.text("main"));
    assert!(page.text("main").contains("diffraction is worked out up to"), "{}", page.text("main"));
    assert!(page.text("main").contains("plainly soft"));
}
