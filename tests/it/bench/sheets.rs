//! What several stories about sheets share: cameras with measured holes, a sheet recorded.

use shimlight::domain::ids::ExposureId;

use crate::app::{Answer, Client};

/// A box of 128 mm with a hole of 0.5 mm: f/256.
pub async fn with_box(student: &Client) {
    student.saves("/bench/camera", &[("build", "box"), ("distance", "128"), ("width", "127"), ("height", "102")]).await;
    with_hole(student).await;
}

/// A hole of 0.5 mm, measured twice.
pub async fn with_hole(student: &Client) {
    student.saves("/bench/hole", &[("reading_1", "0.5"), ("reading_2", "0.5"), ("instrument", "0.01")]).await;
}

/// A sheet in full sun at noon, not through the trays yet, and how it came out.
pub fn sheet_in_the_sun<'a>(made: &'a str, verdict: &'a str) -> Vec<(&'a str, &'a str)> {
    vec![
        ("sky", "full-sun"),
        ("sun", "front"),
        ("reading", ""),
        ("made", made),
        ("made_at", "2026-03-20T12:00"),
        ("sheet", "4x5in"),
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
    let time = shimlight::domain::typed_seconds::parse_seconds(&text);
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
