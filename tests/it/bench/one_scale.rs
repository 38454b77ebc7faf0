//! The time for a light, the pieces to try and the sheets made so far on one scale of stops.

use super::{
    exposures::at_the_box,
    own_figures::asks,
    sheets::{but, sheet_in_the_sun, with_box},
};
use crate::app::{Answer, TestApp};

const IN_THE_SUN: &str = "/bench/exposures?sky=full-sun&sun=front";

fn said(page: &Answer) -> String {
    page.text("#on-one-scale-description")
}

#[tokio::test]
async fn before_the_first_sheet_the_interval_and_the_pieces_stand_on_the_scale() {
    let (_app, student) = at_the_box().await;
    assert_eq!(said(&student.get("/bench/exposures").await), "", "no light is asked for yet");
    let page = student.get(IN_THE_SUN).await;
    // 33 s as in the reading above it; the pieces are a stop and a half apart
    assert!(said(&page).starts_with("The time for this light: 33 s; 8 times in 10 from "), "{}", said(&page));
    assert!(said(&page).ends_with("To try: 12 s · 33 s · 1 min 35 s."), "{}", said(&page));
    let ends = page.text("p.reading .interval");
    let in_the_drawing = said(&page);
    let interval = in_the_drawing.split("from ").nth(1).and_then(|rest| rest.split(". To try").next()).expect("ends");
    assert!(ends.contains(interval), "{ends}: {interval}");
    assert!(!page.text("figcaption").contains("triangle"), "no sheet, no sign");
    assert_eq!(page.text("a[href='#on-one-scale']"), "On one scale of stops with your sheets");
}

#[tokio::test]
async fn sheets_stand_on_it_with_how_they_came_out_and_those_of_another_light_are_carried_over() {
    let (app, student) = at_the_box().await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "too pale")).await;
    student.saves("/bench/exposures", &but(sheet_in_the_sun("66", "too dark"), &[("fault", "leak")])).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("8", "")).await;
    let page = student.get(IN_THE_SUN).await;
    let words = said(&page);
    // newest first; too pale is one stop: 66 s would have been right
    assert!(words.contains("Sheet 3, 8 s: not looked at yet. Sheet 2, 1 min 6 s: too dark, leak."), "{words}");
    assert!(words.ends_with("Sheet 1, 33 s: too pale, 1 min 6 s would have been right."), "{words}");
    assert!(page.texts(".drawing text").iter().any(|text| text.contains("8 times in 10 from ")));
    assert!(page.texts(".drawing text").contains(&"Sheet 1, 33 s: too pale".to_owned()));
    assert!(page.texts(".drawing text").contains(&"Sheet 2, 1 min 6 s: leak".to_owned()));
    assert!(page.text("figcaption").contains("A triangle points to where the right time lies"));
    // clouds without shadows, EV 13, ask for four times as long as EV 15
    let cloudy = student.get("/bench/exposures?sky=cloudy-bright").await;
    assert!(said(&cloudy).contains("Sheet 3, 8 s (32 s here): not looked at yet."), "{}", said(&cloudy));
    assert!(said(&cloudy).contains("Sheet 1, 33 s (2 min 12 s here): too pale, 4 min 24 s would"), "{}", said(&cloudy));
    assert!(cloudy.texts(".drawing text").contains(&"Sheet 1, 2 min 12 s here: too pale".to_owned()));
    assert!(cloudy.text("figcaption").contains("“Here” is as much light as that sheet got"));
    // another camera's sheets are not on it
    let other = app.student(app.the_evening().await.section, "09", "Noor Halim").await;
    with_box(&other).await;
    assert!(!said(&other.get(IN_THE_SUN).await).contains("Sheet"));
}

#[tokio::test]
async fn it_is_held_back_while_the_time_is_the_students_to_work_out() {
    let (app, _anon, instructor, student) = TestApp::with_open_session().await;
    with_box(&student).await;
    student.saves("/bench/exposures", &sheet_in_the_sun("33", "right")).await;
    assert!(said(&student.get(IN_THE_SUN).await).contains("Sheet 1"));
    asks(&app, &instructor, &["exposure-time"]).await;
    let page = student.get(IN_THE_SUN).await;
    assert_eq!(said(&page), "");
    assert!(!page.body.contains("on-one-scale"));
}

#[tokio::test]
async fn of_many_sheets_the_newest_are_drawn_and_the_rest_counted() {
    let (_app, student) = at_the_box().await;
    for made in 10..20 {
        student.saves("/bench/exposures", &sheet_in_the_sun(&made.to_string(), "")).await;
    }
    let page = student.get(IN_THE_SUN).await;
    assert_eq!(said(&page).matches("Sheet ").count(), 8, "{}", said(&page));
    assert!(said(&page).contains("Sheet 10, 19 s") && !said(&page).contains("Sheet 2,"), "{}", said(&page));
    assert!(page.text("figcaption").contains("the table has 2 more"), "{}", page.text("figcaption"));
}
