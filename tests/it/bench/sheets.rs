//! What several stories about sheets share: cameras with measured holes, a sheet recorded.

use shimlight::domain::{
    ids::{ExposureId, PaperId},
    stock::{paper::Paper, usual_stock},
};

use crate::app::{Answer, Client, TestApp};

/// A box of 128 mm with a hole of 0.5 mm: f/256.
pub async fn with_box(student: &Client) {
    student.saves("/bench/camera", &[("build", "box"), ("distance", "128"), ("width", "127"), ("height", "102")]).await;
    with_hole(student).await;
}

/// A hole of 0.5 mm, measured twice.
pub async fn with_hole(student: &Client) {
    student.saves("/bench/hole", &[("reading_1", "0.5"), ("reading_2", "0.5"), ("instrument", "0.01")]).await;
}

/// A camera body without its lens, 45.5 mm deep, with a hole of 0.5 mm: f/91.
pub async fn with_body_cap(student: &Client) {
    let body_cap = [("build", "body cap"), ("distance", "45.5"), ("width", "36"), ("height", "24")];
    student.saves("/bench/camera", &body_cap).await;
    with_hole(student).await;
}

/// A film of ISO 100 with the exponent 1.3 in the stockroom.
pub async fn film_on_the_shelf(app: &TestApp) -> PaperId {
    let evening = app.the_evening().await;
    let film = usual_stock::papers(evening.site, || app.state.mint()).pop().expect("the usual film");
    let id = film.id;
    app.write(move |tx| {
        Box::pin(async move {
            shimlight::store::stock::papers::insert(tx, &film).await?;
            Ok(String::new())
        })
    })
    .await;
    id
}

/// The same film, in the student's body cap.
pub async fn with_film(app: &TestApp, student: &Client) -> PaperId {
    let film = film_on_the_shelf(app).await;
    student.saves("/bench/exposures/film", &[("film", &film.to_string())]).await;
    film
}

/// Changes the card of the session's paper.
pub async fn paper_card(app: &TestApp, change: impl Fn(&mut Paper) + Send + 'static) {
    let paper = app.the_evening().await.paper;
    app.write(move |tx| {
        Box::pin(async move {
            let mut card = shimlight::store::stock::papers::find(tx, paper).await?.expect("the paper");
            change(&mut card);
            shimlight::store::stock::papers::update(tx, &card).await?;
            Ok(String::new())
        })
    })
    .await;
}

/// A sheet in full sun at noon, through the trays when it is said how it came out.
pub fn sheet_in_the_sun<'a>(made: &'a str, verdict: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![
        ("sky", "full-sun"),
        ("sun", "front"),
        ("reading", ""),
        ("made", made),
        ("made_at", "2026-03-20T12:00"),
        ("sheet", "4x5in"),
        ("developed", if verdict.is_empty() { "no" } else { "yes" }),
        ("developed_at", "2026-03-20T12:00"),
        ("verdict", verdict),
        ("stops", ""),
        ("stops_by", "eye"),
        ("fault", ""),
        ("remark", ""),
    ]
}

/// The same with some fields changed or added.
pub fn but<'a>(mut fields: Vec<(&'a str, &'a str)>, changes: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    for &(name, value) in changes {
        match fields.iter_mut().find(|(field, _)| *field == name) {
            Some(field) => field.1 = value,
            None => fields.push((name, value)),
        }
    }
    fields
}

/// The forecast a student is shown in full sun, in seconds.
pub async fn forecast_in_the_sun(student: &Client) -> f64 {
    seconds(&student.get("/bench/exposures?sky=full-sun&sun=front").await)
}

/// The large time of a page, in seconds.
pub fn seconds(page: &Answer) -> f64 {
    let text = page.text("p.reading .value");
    let time = shimlight::domain::measure::typed_seconds::parse_seconds(&text);
    time.unwrap_or_else(|_| panic!("a time: {text} in {}", page.text("main"))).as_s()
}

/// The id of the sheet whose page this is.
pub fn id_of(page: &Answer) -> ExposureId {
    let judge = page
        .attribute("form[action$=judge]", "action")
        .unwrap_or_else(|| panic!("a form to judge: {}", page.text("main")));
    judge.split('/').nth(3).and_then(|id| id.parse().ok()).expect("an id")
}

/// The version that a form on a page carries.
pub fn version_of(page: &Answer, action_ends_in: &str) -> String {
    page.attribute(&format!("form[action$='{action_ends_in}'] input[name=version]"), "value").expect("a version")
}
