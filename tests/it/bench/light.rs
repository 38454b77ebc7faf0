//! What the light is, and what follows: a sky, the sun's height, a reading, the day.

use axum::http::StatusCode;
use shimlight::store;

use super::{
    exposures::at_the_box,
    sheets::{but, id_of, seconds, sheet_in_the_sun},
};
use crate::app::TestApp;

/// Says where the site is: the mile-high city of the site's zone.
async fn placed(app: &TestApp) {
    app.write(|tx| {
        Box::pin(async move {
            let mut site = store::site::sites::find(tx).await?.expect("a site");
            (site.position, site.elevation_m) = (Some((39_739_000, -104_990_000)), 1_609);
            store::site::sites::update(tx, &site).await?;
            Ok(String::new())
        })
    })
    .await;
}

#[tokio::test]
async fn a_meter_reading_is_surer_than_the_sky_and_is_used_instead() {
    let (_app, student) = at_the_box().await;
    let sky = student.get("/bench/exposures?sky=full-sun&sun=front&reading=").await;
    for reading in ["EV+15", "1%2F128+f%2F16+ISO+100", "81920+lx"] {
        let page = student.get(&format!("/bench/exposures?sky=open-shade&sun=front&reading={reading}")).await;
        assert_eq!(page.text("p.reading .value"), "33 s", "{reading}");
        assert_ne!(page.text("p.reading .interval"), sky.text("p.reading .interval"), "{reading}");
    }
    let wrong = student.get("/bench/exposures?sky=&sun=&reading=bright").await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.error_beside("reading").contains("is not a reading"), "{}", wrong.error_beside("reading"));
    assert_eq!(wrong.attribute("[name=reading]", "value").as_deref(), Some("bright"));
}

#[tokio::test]
async fn before_a_light_is_chosen_every_sky_has_its_time() {
    let (_app, student) = at_the_box().await;
    let page = student.get("/bench/exposures").await;
    let times = page.texts("[aria-label='Times by sky'] tbody td:nth-child(2)");
    // one EV less is twice the time
    assert_eq!(times[..4], ["17 s", "33 s", "1 min 5 s", "2 min 15 s"], "{times:?}");
    assert_eq!(
        page.attribute("table tbody a", "href").as_deref(),
        Some("/bench/exposures?sky=sand-or-snow&sun=front&reading=")
    );
}

#[tokio::test]
async fn by_the_height_of_the_sun_there_is_a_time_a_chart_of_the_day_and_a_word_on_each_source() {
    let (app, student) = at_the_box().await;
    let without = student.get("/bench/exposures?sky=clear&sun=front").await;
    assert_eq!(without.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(without.text("[id=asked-sky-error]").contains("latitude and longitude are not entered"));
    placed(&app).await;
    let page = student.get("/bench/exposures?sky=clear&sun=front").await;
    // noon, sun 47° high on day 79: about EV 15.0 on an upright subject, so about half a minute at f/256
    let time = seconds(&page);
    assert!((28.0..=38.0).contains(&time), "{time}");
    assert!(page.text("dl.facts").contains("clear sky, sun 47"), "{}", page.text("dl.facts"));
    let day = page.text("[aria-labelledby=day] svg desc");
    assert!(day.contains("Light enough from 07:15"), "{day}");
    assert!(page.body.contains("now, 12:00"));
    let hours = page.texts("[aria-label='Times through the day'] tbody th");
    assert!(hours.contains(&"12:00".to_owned()) && !hours.contains(&"02:00".to_owned()), "{hours:?}");
    let sources = page.texts("[aria-labelledby=sources] tbody tr");
    assert!(sources[2].contains("used") && sources[1].contains("surest at hand"), "{sources:?}");
    // in the morning the table of skies does not hold
    let early = student.get("/bench/exposures?sky=full-sun&sun=front&at=2026-03-20T08:00").await;
    assert!(early.text("main").contains("The sun is low"), "{}", early.text("main"));
    // the clocks go forward on 8 March: a day of 23 hours, as long as it is
    let short = student.get("/bench/exposures?sky=clear&sun=front&at=2026-03-08T12:00").await;
    assert!(short.text("#day").contains("8 Mar 2026") && short.texts("svg text").contains(&"24".to_owned()));
    let night = student.get("/bench/exposures?sky=clear&sun=front&at=2026-03-20T23:00").await;
    assert!(night.text("[id=asked-sky-error]").contains("below the horizon"));
}

#[tokio::test]
async fn a_sheet_by_the_suns_height_takes_the_sun_as_it_stood_when_it_was_made() {
    let (app, student) = at_the_box().await;
    placed(&app).await;
    let fields =
        but(sheet_in_the_sun("33", "right"), &[("sky", "clear"), ("sun", "shade"), ("made_at", "2026-03-20T09:30")]);
    let sheet = student.saves("/bench/exposures", &fields).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let stored = store::exposure::exposures::find(&mut conn, id_of(&sheet)).await.expect("read").expect("stored");
    assert_eq!(stored.light_source.as_str(), "sun");
    assert!(
        stored.light_typed.starts_with("clear sky, sun 2") && stored.light_typed.ends_with("subject in open shade")
    );
    assert!((10_700..=12_000).contains(&stored.ev100_milli), "{}", stored.ev100_milli);
    let form = student.get(&format!("/bench/exposures/{}/correct", stored.id)).await;
    assert_eq!(form.attribute("[name=sky] [selected]", "value").as_deref(), Some("clear"));
}

#[tokio::test]
async fn a_question_that_cannot_be_read_is_told_at_the_top() {
    let (_app, student) = at_the_box().await;
    let page = student.get("/bench/exposures?reading=foo").await;
    assert_eq!(page.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(page.text(".wrong").contains("“foo” is not a reading"), "{}", page.text(".wrong"));
    assert_eq!(page.attribute(".wrong a", "href").as_deref(), Some("#asked-reading"));
    let two = student.get("/bench/exposures?reading=1,200+lx").await;
    assert!(two.text(".wrong").contains("can be read two ways"), "{}", two.text(".wrong"));
}

#[tokio::test]
async fn a_large_hole_in_full_sun_is_said_to_be_too_short_by_hand() {
    let (_app, _anon, _instructor, student) = TestApp::with_open_session().await;
    student.saves("/bench/camera", &[("build", "box"), ("distance", "60"), ("width", "60"), ("height", "60")]).await;
    student
        .saves("/bench/hole", &[("reading_1", "3"), ("reading_2", "3"), ("instrument", "0.05"), ("sure", "yes")])
        .await;
    let page = student.get("/bench/exposures?sky=full-sun").await;
    // N = 20: 100 × 400 / (32768 × 6) = 0.2 s
    let cautions = page.texts("aside.caution");
    assert!(cautions.iter().any(|caution| caution.contains("under half a second")), "{cautions:?}");
}

#[tokio::test]
async fn beside_a_reading_the_chart_follows_the_sky_that_is_picked_and_says_so() {
    let (app, student) = at_the_box().await;
    placed(&app).await;
    let alone = student.get("/bench/exposures?reading=EV+12").await.text("#day ~ figure figcaption");
    assert!(alone.contains("fixes the light of now only"), "{alone}");
    let both = student.get("/bench/exposures?sky=heavy-overcast&sun=front&reading=EV+12").await;
    assert!(both.text("#day").contains("cloudy"), "{}", both.text("#day"));
    assert!(
        both.text("#day ~ figure figcaption").contains("follows the sky you picked"),
        "{}",
        both.text("#day ~ figure figcaption")
    );
    let sky = student.get("/bench/exposures?sky=heavy-overcast&sun=front").await;
    assert!(
        !sky.text("#day ~ figure figcaption").contains("fixes the light"),
        "{}",
        sky.text("#day ~ figure figcaption")
    );
}

#[tokio::test]
async fn an_hour_that_the_clocks_showed_twice_is_asked_which_and_one_they_skipped_is_refused() {
    let (app, student) = at_the_box().await;
    placed(&app).await;
    // the clocks of that zone go forward on 8 March 2026 at 2:00 and back on 1 November at 2:00
    let skipped = student.get("/bench/exposures?reading=EV+5&at=2026-03-08T02:30").await;
    assert_eq!(skipped.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(skipped.text("[id=asked-at-error]").contains("the clocks went forward"));
    assert_eq!(skipped.attribute("[name=at_which]", "name"), None);
    let twice = student.get("/bench/exposures?reading=EV+5&at=2026-11-01T01:30").await;
    assert!(twice.text("[id=asked-at-error]").contains("showed this time twice"), "{}", twice.text("main"));
    assert_eq!(twice.texts("[name=at_which] option")[2], "the second time, after they went back");
    let second = student.get("/bench/exposures?reading=EV+5&at=2026-11-01T01:30&at_which=second").await;
    assert_eq!(second.status, StatusCode::OK);
    assert!(second.text("#day").contains("1 Nov 2026"));
}
