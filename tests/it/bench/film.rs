//! Film in a body cap: its own speed, its own reciprocity, its own lessons.

use axum::http::StatusCode;
use shimlight::store;

use super::sheets::{
    but, film_on_the_shelf, forecast_in_the_sun, id_of, seconds, sheet_in_the_sun, with_body_cap, with_box, with_film,
};
use crate::app::{Client, TestApp};

const OVERCAST: &str = "/bench/exposures?sky=heavy-overcast&sun=front";

async fn overcast(student: &Client) -> f64 {
    seconds(&student.get(OVERCAST).await)
}

#[tokio::test]
async fn before_it_is_said_which_film_it_is_no_time_is_given_and_nothing_recorded() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_body_cap(&student).await;
    let page = student.get(OVERCAST).await;
    assert!(page.text("main").contains("The stockroom has no film yet"), "{}", page.text("main"));
    assert_eq!(page.text("p.reading .value"), "");
    let film = film_on_the_shelf(&app).await;
    let sheet = but(sheet_in_the_sun("2", ""), &[("sky", "heavy-overcast"), ("developed", "no")]);
    let refused = student.post("/bench/exposures", &sheet).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text("main").contains("which film is in the camera"), "{}", refused.text("main"));
    // paper is no film
    let paper = app.the_evening().await.paper.to_string();
    let wrong = student.post("/bench/exposures/film", &[("film", &paper)]).await;
    assert!(wrong.text("[id=film-film-error]").contains("one of the films"), "{}", wrong.text("main"));
    let named = student.saves("/bench/exposures/film", &[("film", &film.to_string())]).await;
    assert!(named.text("main").contains("Film, ISO 100 at EI 100"), "{}", named.text("main"));
    assert!(named.text("p.saved").contains("film put in"), "{}", named.text("p.saved"));
}

#[tokio::test]
async fn its_time_is_that_of_the_films_speed_and_reciprocity_and_the_missing_glass() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_body_cap(&student).await;
    let film = with_film(&app, &student).await;
    let page = student.get(OVERCAST).await;
    // N = 91, EV 12, EI 100: 100 × 91² / (4096 × 100) = 2.02 s (ISO 2720); 0.27 stop less without a lens:
    // 1.68 s; 1.96 s by t′ = t₀ (t / t₀)^1.3, t₀ = 1 s
    assert_eq!(page.text("p.reading .value"), "2 s");
    assert!(page.text("dl.facts").contains("Film, ISO 100, EI 100"), "{}", page.text("dl.facts"));
    assert_eq!(page.attribute("[name=developed]", "name"), None);
    let overcast = [("sky", "heavy-overcast"), ("developed", "no")];
    let developed = [overcast[0], ("developed", "yes"), ("developed_at", "2026-03-20T12:00")];
    let through = student.post("/bench/exposures", &but(sheet_in_the_sun("2", ""), &developed)).await;
    assert_eq!(through.status, StatusCode::UNPROCESSABLE_ENTITY);
    let sheet = student.saves("/bench/exposures", &but(sheet_in_the_sun("2", "right"), &overcast)).await;
    let mut conn = app.state.store.read().await.expect("a reader");
    let stored = store::exposure::exposures::find(&mut conn, id_of(&sheet)).await.expect("read").expect("stored");
    assert_eq!((stored.paper, stored.exposure_index_milli, stored.reciprocity_milli), (film, 100_000, 1_300));
    assert!((1_670..=1_690).contains(&stored.base_ms), "{}", stored.base_ms);
    // in full sun no hand can time it: 0.25 s and less
    let sun = student.get("/bench/exposures?sky=full-sun&sun=front").await;
    assert_eq!(sun.text("p.reading .value"), "under half a second");
}

#[tokio::test]
async fn its_sheets_teach_the_film_and_not_the_paper_of_the_session() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    with_body_cap(&student).await;
    let film = with_film(&app, &student).await;
    let evening = app.the_evening().await;
    let other = app.student(evening.section, "09", "Noor Halim").await;
    with_box(&other).await;
    let (film_before, paper_before) = (overcast(&student).await, forecast_in_the_sun(&other).await);
    let pale = but(sheet_in_the_sun("2", "much too pale"), &[("sky", "heavy-overcast"), ("developed", "no")]);
    student.saves("/bench/exposures", &pale).await;
    assert!(overcast(&student).await > 1.5 * film_before);
    assert_eq!(forecast_in_the_sun(&other).await, paper_before);
    let page = |paper| format!("/front/stockroom/papers/{paper}/experience");
    assert!(instructor.get(&page(film)).await.text("dl.facts").contains("1 teach"));
    assert!(instructor.get(&page(evening.paper)).await.text("dl.facts").contains("no experience yet"));
    // and its exponent is its maker's
    assert!(instructor.get(&page(film)).await.text("dl.facts").contains("1.3, from its card"));
}

#[tokio::test]
async fn a_sheet_put_down_to_the_wrong_film_is_corrected_with_its_base() {
    let (app, _anon, _instructor, student) = TestApp::with_open_session().await;
    with_body_cap(&student).await;
    with_film(&app, &student).await;
    let fast = film_on_the_shelf(&app).await;
    app.write(move |tx| {
        Box::pin(async move {
            let mut film = store::stock::papers::find(tx, fast).await?.expect("the film");
            (film.exposure_index_milli, film.name) = (400_000, "Film, ISO 400".to_owned());
            store::stock::papers::update(tx, &film).await?;
            Ok(String::new())
        })
    })
    .await;
    let overcast = but(sheet_in_the_sun("2", "right"), &[("sky", "heavy-overcast"), ("developed", "no")]);
    let sheet = student.saves("/bench/exposures", &overcast).await;
    let read = async || {
        let mut conn = app.state.store.read().await.expect("a reader");
        store::exposure::exposures::find(&mut conn, id_of(&sheet)).await.expect("read").expect("stored")
    };
    let before = read().await;
    let path = format!("/bench/exposures/{}/correct", id_of(&sheet));
    let fast_film = fast.to_string();
    let corrected = but(overcast, &[("film", &fast_film), ("version", "1")]);
    student.saves(&path, &corrected).await;
    let after = read().await;
    assert_eq!((after.paper, after.exposure_index_milli), (fast, 400_000));
    // four times as fast: a quarter of the base
    assert!((after.base_ms * 4 - before.base_ms).abs() <= 4, "{} {}", before.base_ms, after.base_ms);
}
