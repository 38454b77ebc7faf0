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

#[tokio::test]
async fn the_clock_is_set_by_the_light_and_its_time_goes_into_the_record() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    // before the first sheet: a sky to choose
    let home = student.get("/bench").await;
    assert_eq!(home.attribute("[data-part=now] a[href^='/bench/timer']", "href").as_deref(), Some("/bench/timer"));
    let skies = student.get("/bench/timer").await;
    let full_sun = skies.texts("tbody th a").iter().position(|sky| sky.starts_with("full sun")).expect("full sun");
    let set = skies.attribute(&format!("tbody tr:nth-child({}) a", full_sun + 1), "href").expect("a clock for it");
    let clock = student.get(&set).await;
    assert_eq!(clock.attribute("[data-shutter]", "data-shutter").as_deref(), Some("33000"));
    assert!(clock.text(".shutter").contains("For full sun"), "{}", clock.text("main"));
    // without a script the link carries the forecast's seconds, and the light
    let record = clock.attribute("[data-shutter-record]", "href").expect("a way to the record");
    assert!(record.ends_with("#record"), "{record}");
    let form = student.get(record.trim_end_matches("#record")).await;
    assert_eq!(form.attribute("#record [name=made]", "value").as_deref(), Some("33 s"));
    assert!(form.text("#record-made-hint").contains("as the shutter clock was set"), "{}", form.text("#record"));
    assert_eq!(form.attribute("#record [name=sky] [selected]", "value").as_deref(), Some("full-sun"));
    // what a script counted is said to be counted; nonsense is not taken over
    let counted = student.get("/bench/exposures?made=31.4+s&by=clock").await;
    assert!(counted.text("#record-made-hint").contains("counted by the shutter clock"));
    let nonsense = student.get("/bench/exposures?made=soon&by=clock").await;
    assert_eq!(nonsense.attribute("#record [name=made]", "value").as_deref(), Some(""));
    // the page of a light leads to the clock as well
    let asked = student.get("/bench/exposures?sky=full-sun&sun=front").await;
    assert_eq!(asked.attribute("a[href^='/bench/timer']", "href"), Some(set));
}

#[tokio::test]
async fn the_clock_is_reached_from_home_while_an_exposure_lies_ahead() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "too pale")).await;
    let clock = |page: &crate::app::Answer| page.attribute("[data-part=now] a[href^='/bench/timer']", "href");
    let home = student.get("/bench").await;
    let set = clock(&home).expect("a clock before loading");
    assert!(set.starts_with("/bench/timer?time="), "set beforehand: {set}");
    let page = student.saves("/bench/ways", &[]).await;
    assert_eq!(clock(&page).as_ref(), Some(&set), "while it is loaded");
    let way = page.attribute("form[action^='/bench/ways/']", "action").expect("a way on");
    let outside = student.saves(&way, &[("to", "outside")]).await;
    assert_eq!(clock(&outside).as_ref(), Some(&set));
    let time = outside.text("[data-part=now] .reading .value");
    assert_eq!(outside.text("h1"), format!("Open the shutter for {time}"));
    student.saves(&way, &[("to", "waiting for a place")]).await;
    assert_eq!(clock(&student.get("/bench").await), None, "the exposure is over");
}
