//! The shutter clock.

use super::sheets::{sheet_in_the_sun, with_box};
use crate::app::TestApp;

#[tokio::test]
async fn the_clock_takes_the_time_of_the_next_sheet_in_the_last_light_or_one_that_is_typed() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    let empty = student.get("/bench/timer").await;
    assert_eq!(empty.attribute("[data-shutter]", "data-shutter"), None);
    assert!(empty.text("aside.caution").contains("Never look at the sun"));
    with_box(&student).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await;
    let home = student.get("/bench/exposures?sky=full-sun&sun=front").await;
    let forecast = super::sheets::seconds(&home);
    let clock = student.get("/bench/timer").await.attribute("[data-shutter]", "data-shutter").expect("a time");
    assert_eq!(clock, format!("{}", (forecast * 1000.0) as i64));

    let typed = student.get("/bench/timer?time=1:30").await;
    assert_eq!(typed.attribute("[data-shutter]", "data-shutter").as_deref(), Some("90000"));
    assert_eq!(typed.text("[data-shutter-left]"), "1 min 30 s");
    assert!(typed.body.contains("<noscript><p class=\"note\">Without a script this page cannot count. Count aloud"));
    let wrong = student.get("/bench/timer?time=soon").await;
    assert_eq!(wrong.status, 422);
    assert!(wrong.error_beside("time").contains("is not a time"));
}
