//! Paper for the dark: prep sheet, bench cards, blank cards, door poster.

use axum::http::StatusCode;
use shimlight::domain::people::actor::Role;

use crate::{app::TestApp, bench::sheets::with_film};

const CAN: [(&str, &str); 4] =
    [("build", "side-hole can"), ("inside_diameter", "120"), ("width", "170"), ("height", "120")];

#[tokio::test]
async fn a_bench_card_has_the_hole_the_micrometer_and_the_time_for_three_skies_and_more() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    app.student(evening.section, "08", "شهرزاد <b>Vask</b>").await;
    student.saves("/bench/camera", &CAN).await;
    let cards = instructor.get(&format!("/front/sessions/{}/cards", evening.session)).await;
    assert_eq!(cards.status, StatusCode::OK);
    assert_eq!(cards.texts(".bench-card").len(), 2, "one for the camera, one for her who has none");
    assert_eq!(cards.text(".card-camera"), "Camera 1");
    assert_eq!(cards.text(".card-names"), "Teodora Vask (07)");
    assert_eq!(cards.text(".card-about"), "side-hole can: 120 mm inside, film 170 × 120 mm along the wall");
    // d = C √(λ f) = 1.9 × √(0.00055 mm × 120 mm) = 0.488 mm; f/246
    assert_eq!(cards.text(".card-hole dd"), "0.49 mm = 19.2/1000 in");
    assert!(cards.texts(".card-hole dd")[1].ends_with("f/246"), "{:?}", cards.texts(".card-hole dd"));
    // t = N² × 100 / (2^EV × EI) with N = 245.8, EI 6 (ISO 2720): 31 s at EV 15, then a stop each
    let times = cards.texts(".card-times:not(.card-reckoner) td strong");
    assert_eq!(times, ["31 s", "1 min", "2 min 5 s", "4 min 5 s"]);
    assert!(cards.texts(".card-times th").contains(&"FS full sun".to_owned()));
    assert_eq!(cards.texts(".card-names")[1], "شهرزاد <b>Vask</b> (08)");
    assert!(cards.texts(".card-names b").is_empty(), "a name is text, not markup");
}

#[tokio::test]
async fn partners_share_a_card_and_film_for_the_laboratory_skips_the_trays() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let body_cap = [("build", "body cap"), ("distance", "44"), ("width", "36"), ("height", "24")];
    student.saves("/bench/camera", &body_cap).await;
    let partner = app.student(evening.section, "08", "Ilo Vask").await;
    partner.saves("/bench/camera/join", &[("number", "1"), ("partner", "07")]).await;
    let cards = instructor.get(&format!("/front/sessions/{}/cards", evening.session)).await;
    assert_eq!(cards.texts(".bench-card").len(), 1);
    assert_eq!(cards.text(".card-names"), "Ilo Vask · Teodora Vask (08, 07)");
    let steps = cards.texts(".card-steps li");
    assert_eq!(steps, ["Wound on", "Cap tight", "Counted", "Rewound"]);
    assert!(cards.texts(".card-times td").is_empty(), "nobody has said which film it holds");
    // its film named, the card has the film's times: N = 44 / 0.2956 mm = 149 by the formula (C = 1.9, 550 nm),
    // EI 100, EV 12: 5.41 s (ISO 2720), 0.27 stop less without a lens: 4.49 s, ^1.3: 7.1 s
    with_film(&app, &student).await;
    let cards = instructor.get(&format!("/front/sessions/{}/cards", evening.session)).await;
    assert!(cards.text(".card-times caption").contains("Film, ISO 100, EI 100"), "{}", cards.text(".card-times"));
    assert_eq!(cards.texts(".card-times td strong")[3], "7 s");
}

#[tokio::test]
async fn blank_cards_carry_an_evening_without_the_server() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let cards = instructor.get(&format!("/front/sessions/{}/cards?blank=1", evening.session)).await;
    assert_eq!(cards.text("h1"), "Blank cards");
    assert_eq!(cards.texts(".bench-card").len(), 4);
    assert!(!cards.body.contains("Teodora"), "no names");
    let rows = cards.texts(".card-reckoner tbody th");
    assert_eq!(rows[..7], ["50 mm", "75 mm", "100 mm", "120 mm", "150 mm", "200 mm", "250 mm"]);
    // 1.9 × √(0.00055 × 120) = 0.488 mm = 19.2 thousandths; 31 s in full sun at EI 6
    let can = cards.texts(".card-reckoner tbody tr:nth-child(4) td");
    assert_eq!(can[..6], ["0.49", "19.2", "31 s", "1 min", "2 min 5 s", "4 min 5 s"]);
}

#[tokio::test]
async fn a_roster_of_five_fills_two_pages() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    for number in ["21", "22", "23", "24"] {
        app.student(evening.section, number, "Somebody").await;
    }
    let cards = instructor.get(&format!("/front/sessions/{}/cards", evening.session)).await;
    assert_eq!((cards.texts(".card-page:not(.card-backs)").len(), cards.texts(".bench-card").len()), (2, 5));
    // one more page is the back of them all
    assert_eq!((cards.texts(".card-backs").len(), cards.texts(".card-back").len()), (1, 4));
    let back = cards.text(".card-back");
    for words in ["hazy sun", "much too pale", "Developer for its full time", "No phone", "safety data sheet"] {
        assert!(back.contains(words), "{words}: {back}");
    }
}

#[tokio::test]
async fn the_door_poster_has_the_rules_of_the_dark_room_the_code_the_address_and_whom_to_call() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let evening = app.the_evening().await;
    let poster = instructor.get(&format!("/front/sessions/{}/poster", evening.session)).await;
    assert_eq!(poster.text(".poster-code"), "QUAY7");
    assert!(
        poster.text(".poster-seat p:has(.poster-code)").contains("your roster number"),
        "the code stands among the text"
    );
    assert!(poster.texts(".poster-rules li").iter().any(|rule| rule.starts_with("Knock")), "a dark room's notice");
    assert!(poster.texts("ol").is_empty(), "no numbered steps");
    assert!(poster.text(".poster-emergency").contains("not entered: ask your safety office"));
    assert_eq!(poster.text("svg title"), "The address as a QR code");
    assert!(poster.text(".not-on-paper strong").contains("only works on this computer"), "asked for without a Host");
}

#[tokio::test]
async fn whoever_scans_the_poster_need_not_type_the_door_code() {
    let (_app, anon, _instructor, _student) = TestApp::with_open_session().await;
    let sheet = anon.get("/?door_code=quay7").await;
    assert_eq!(sheet.attribute("[name=door_code]", "value").as_deref(), Some("QUAY7"));
    let sheet = anon.get("/?door_code=%22%3E%3Cscript%3E").await;
    assert_eq!(sheet.attribute("[name=door_code]", "value").as_deref(), Some(""));
}

#[tokio::test]
async fn a_prep_sheet_says_what_to_mix_for_so_many_students() {
    let (app, _anon, _instructor, _student) = TestApp::with_open_session().await;
    let assistant = app.staff(Role::Assistant, "Odo Lind").await;
    let evening = app.the_evening().await;
    assistant.saves("/front/stockroom/usual", &[]).await;
    let path = format!("/front/sessions/{}/prep", evening.session);
    let usual = assistant.get(&path).await;
    assert_eq!(usual.attribute("[name=students]", "value").as_deref(), Some("1"), "those on the roster");
    let prep = assistant.get(&format!("{path}?students=24&sheets_each=8&sheet=4x5in&tray_l=2")).await;
    assert_eq!(prep.status, StatusCode::OK);
    // 192 sheets of 4 × 5 in are 2.477 m²; at 2 m²/L 1.2 L of fixer, 2.5 g of silver (worked by hand in this test)
    assert!(prep.text("caption").starts_with("192 sheets of 4 × 5 in are 2.48 m²"), "{}", prep.text("caption"));
    let rows = prep.texts("tbody tr");
    let fixer = rows.iter().find(|row| row.starts_with("Rapid fixer")).expect("a row");
    for part in ["1+4", "1.2 L", "2 L", "400 mL", "1600 mL"] {
        assert!(fixer.contains(part), "{part}: {fixer}");
    }
    assert!(prep.text("main").contains("About 2.4 g of silver (0.87 to 4.0 g)"), "{}", prep.text("main"));
    assert!(prep.text("main").contains("Never look at the sun through the hole"));
    assert!(prep.text("main").contains("Title: not entered: ask your safety office"));
    assert!(!prep.body.contains("drain "), "nothing is ever said to go down one");
}

#[tokio::test]
async fn figures_that_cannot_be_are_refused_and_the_sheet_keeps_the_usual_ones() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let path = format!("/front/sessions/{}/prep", app.the_evening().await.session);
    let refused = instructor.get(&format!("{path}?students=many&sheets_each=8&sheet=large&tray_l=0")).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(refused.error_beside("students"), "must be a whole number from 0 to 500");
    assert!(refused.error_beside("sheet").starts_with("type width x height"));
    assert_eq!(refused.error_beside("tray_l"), "must be a number from 0.1 to 50");
    assert_eq!(refused.attribute("[name=students]", "value").as_deref(), Some("many"));
    assert_eq!(refused.text("h1"), "Prep sheet: First light");
}

#[tokio::test]
async fn a_label_stands_behind_each_tray_to_be_filled_in_until_a_batch_stands_there() {
    let (app, _anon, instructor, _student) = TestApp::with_open_session().await;
    let page = instructor.get(&format!("/front/sessions/{}/tray-labels", app.the_evening().await.session)).await;
    assert_eq!(page.texts(".tray-label h2"), ["developer", "stop bath", "fixer"]);
    assert_eq!(page.texts(".tray-place"), ["1", "2", "3"]);
    assert!(page.text(".tray-label").contains("no stop bath, no fixer"), "{}", page.text(".tray-label"));
    assert_eq!(page.texts(".tray-batch").len(), page.body.matches("Batch <span class=\"write\">").count());
}
