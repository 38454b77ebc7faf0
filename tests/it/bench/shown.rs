//! What a sheet keeps of the page it was recorded from: the forecast as it was shown, the sign picked.

use axum::http::StatusCode;
use shimlight::{domain::exposure::Exposure, store};

use super::{
    exposures::at_the_box,
    sheets::{but, id_of, sheet_in_the_sun},
};
use crate::app::{Answer, TestApp};

async fn stored(app: &TestApp, page: &Answer) -> Exposure {
    let mut conn = app.state.store.read().await.expect("a reader");
    store::exposure::exposures::find(&mut conn, id_of(page)).await.expect("read").expect("stored")
}

fn shown_on(page: &Answer) -> String {
    page.attribute("[name=shown]", "value").expect("what was shown")
}

#[tokio::test]
async fn the_forecast_that_was_shown_is_kept_whatever_light_was_found_and_whatever_is_corrected() {
    let (app, student) = at_the_box().await;
    let shown = shown_on(&student.get("/bench/exposures?sky=full-sun&sun=front").await);
    // meanwhile somebody's sheet teaches, and the light turns
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "much too pale")).await;
    let found = but(sheet_in_the_sun("33", "right"), &[("sky", "heavy-overcast"), ("shown", &shown)]);
    let page = student.saves("/bench/exposures", &found).await;
    let sheet = stored(&app, &page).await;
    // shown for EV 15 with no experience: 33.3 s; the base is that of EV 12, three stops more (ISO 2720)
    assert_eq!((sheet.forecast_ms, sheet.based_on, sheet.base_ms), (33_333, 0, 266_667));
    assert_eq!(sheet.shown_for, "full sun, distinct shadows; sun behind the camera");
    assert!(page.text("dl.facts").contains("as it was shown, for full sun"), "{}", page.text("dl.facts"));

    let corrected = but(sheet_in_the_sun("33", "right"), &[("sky", "hazy-sun"), ("version", "1")]);
    student.saves(&format!("/bench/exposures/{}/correct", sheet.id), &corrected).await;
    let again = stored(&app, &page).await;
    assert_eq!((again.forecast_ms, again.base_ms), (33_333, 66_667));
}

#[tokio::test]
async fn from_the_table_of_skies_it_is_the_line_of_the_sky_that_was_found() {
    let (app, student) = at_the_box().await;
    let shown = shown_on(&student.get("/bench/exposures").await);
    let found = but(sheet_in_the_sun("60", ""), &[("sky", "hazy-sun"), ("shown", &shown)]);
    let sheet = stored(&app, &student.saves("/bench/exposures", &found).await).await;
    assert_eq!((sheet.forecast_ms, sheet.forecast_shown, sheet.shown_for.as_str()), (66_667, true, ""));
}

#[tokio::test]
async fn a_forecast_that_was_changed_on_the_way_counts_as_none_that_was_shown() {
    let (app, student) = at_the_box().await;
    let shown = shown_on(&student.get("/bench/exposures?sky=full-sun&sun=front").await);
    let forged = shown.replace("33333", "40000");
    assert_ne!(forged, shown);
    let page = student.saves("/bench/exposures", &but(sheet_in_the_sun("40", ""), &[("shown", &forged)])).await;
    let sheet = stored(&app, &page).await;
    assert_eq!((sheet.forecast_ms, sheet.forecast_shown), (33_333, false));
    assert!(page.text("dl.facts").contains("worked out when the sheet was recorded"), "{}", page.text("dl.facts"));
}

#[tokio::test]
async fn somebody_picks_what_a_negative_looks_like_and_reads_what_to_try() {
    let (_app, student) = at_the_box().await;
    let list = student.get("/bench/signs").await;
    assert_eq!(list.texts("svg.negative").len(), 9);
    let first = list.attribute("ul.plain a", "href").expect("a sign");
    let page = student.get(&first).await;
    assert!(page.text("h2").contains("It looks: white all over"), "{}", page.text("h2"));
    assert!(page.text("dl.facts").contains("four times the light"), "{}", page.text("dl.facts"));
    assert_eq!(student.get("/bench/signs?looks=gremlins").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_sign_picked_comes_back_with_the_sheet_and_its_page_says_what_to_try() {
    let (app, student) = at_the_box().await;
    let picked = student.get("/bench/signs?looks=finger-marks").await;
    assert_eq!(picked.attribute("a.go", "href").as_deref(), Some("/bench/exposures?sign=finger-marks#record"));
    let form = student.get("/bench/exposures?sign=finger-marks").await;
    assert_eq!(form.attribute("[name=sign] [selected]", "value").as_deref(), Some("finger-marks"));
    let leak = student.get("/bench/exposures?sign=a-black-streak-edge-or-spot").await;
    assert_eq!(leak.attribute("[name=fault] [selected]", "value").as_deref(), Some("leak"));
    // something else spoiled it: without a sign nobody can say what
    let spoiled = but(sheet_in_the_sun("33", "right"), &[("fault", "other")]);
    let page = student.saves("/bench/exposures", &spoiled).await;
    assert!(page.text("main").contains("Something else spoiled it: pick what it looks like"), "{}", page.text("main"));
    assert!(!page.text("main").contains("rock the tray"), "{}", page.text("main"));
    let signs = format!("/bench/signs?looks=finger-marks&sheet={}", id_of(&page));
    let back = student.get(&signs).await.attribute("a.go", "href").expect("back to the sheet");
    let page = student.get(back.trim_end_matches("#judge")).await;
    assert_eq!(page.attribute("[name=sign] [selected]", "value").as_deref(), Some("finger-marks"));
    let judged = [("version", "1"), ("verdict", "right"), ("fault", "other"), ("sign", "finger-marks"), ("remark", "")];
    let page = student.saves(&format!("/bench/exposures/{}/judge", id_of(&page)), &judged).await;
    assert!(page.text("main").contains("rinse and dry your hands"), "{}", page.text("main"));
    assert_eq!(
        stored(&app, &page).await.judgement.and_then(|judged| judged.sign).map(|sign| sign.looks),
        Some("finger marks")
    );
}

#[tokio::test]
async fn where_reciprocity_counts_four_times_the_light_is_more_than_four_times_the_clock() {
    let (app, student) = at_the_box().await;
    super::sheets::paper_card(&app, |paper| paper.reciprocity_milli = 1_300).await;
    let page = student.saves("/bench/exposures", &sheet_in_the_sun("33", "all white")).await;
    // 33 s x 4^1.3 = 200 s (t′ = t₀ (t / t₀)^p, t₀ = 1 s)
    assert!(
        page.text("main").contains("four times the light, which in this light is 3 min 20 s on the clock"),
        "{}",
        page.text("main")
    );
    let choices = page.texts("[id=judge-verdict] label");
    let pale = choices.iter().find(|choice| choice.contains("much too pale")).expect("a choice");
    assert!(pale.contains("four times the light: 3 min 20 s here"), "{pale}");
    assert!(page.body.matches("<svg class=\"negative\"").count() == 9);
}

#[tokio::test]
async fn while_a_sheet_is_typed_in_the_time_for_its_light_and_what_its_result_says_follow() {
    let (_app, student) = at_the_box().await;
    let form = student.get("/bench/exposures").await;
    let follows = form.attribute("form[method=post][action='/bench/exposures']", "data-as-typed");
    assert_eq!(follows.as_deref(), Some("/bench/exposures/as-typed"));
    let early = student.get("/bench/exposures/as-typed?sky=&made=12").await;
    assert!(early.body.contains("when the light is described"), "{}", early.body);
    let typed = "/bench/exposures/as-typed?sky=full-sun&sun=front&made=66.7&made_at=2026-03-20T12:00&verdict=too+dark";
    let page = student.get(typed).await;
    // 33.3 s at f/256, EV 15, EI 6 (ISO 2720); 66.7 s is a stop more, and a stop too much
    assert_eq!(page.texts(".value"), ["33 s", "33 s"], "{}", page.body);
    assert!(page.text(".interval").contains("the time you typed is +1.0 stops of light from it"), "{}", page.body);
    let blank = student.get(&typed.replace("too+dark", "all+white")).await;
    assert!(blank.body.contains("Give next") && blank.body.contains("4 min 25 s"), "{}", blank.body);
    assert!(
        student
            .get("/bench/exposures/as-typed?sky=full-sun&aim=corner&point=900+x+0")
            .await
            .body
            .contains("lies on the film")
    );
}
