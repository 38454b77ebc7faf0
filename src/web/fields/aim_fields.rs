//! The controls with which somebody says where on the film a sheet is exposed for.

use askama::Template;

use crate::domain::{
    camera::Body,
    exposure::aim::{Aim, Spot},
    field_errors::FieldErrors,
};

use crate::web::kit::form::{Control, Form};

/// The two controls: a place by name, and a point that is used instead.
#[derive(Debug, Template)]
#[template(path = "parts/aim_fields.html")]
pub struct AimFields {
    aim: Control,
    point: Control,
    /// Whether something else than the middle is asked for, or something is wrong.
    open: bool,
}

impl askama::filters::HtmlSafe for AimFields {}

impl AimFields {
    /// The controls of a form.
    pub fn of(form: &Form) -> Self {
        let spots: Vec<_> = Spot::NAMED.into_iter().map(|spot| (spot.key().to_owned(), spot.label())).collect();
        let elsewhere = !matches!(form.value("aim"), "" | "middle") || !form.value("point").is_empty();
        let wrong = !form.error("aim").is_empty() || !form.error("point").is_empty();
        Self {
            open: elsewhere || wrong,
            aim: form
                .select("aim", "Expose for", &spots)
                .hint("away from the middle the film gets less light; what is right there is too much in the middle"),
            point: form
                .text("point", "Or a point of your own")
                .hint("across × up from the middle: 30 x 20 in mm, or 1 x 0.5 in")
                .optional()
                .short()
                .attribute("autocomplete", "off"),
        }
    }
}

/// Reads the aim from fields called `aim` and `point`; nothing sent is the middle.
///
/// # Errors
/// A message beside the field that cannot be read, or whose point lies off the film.
pub fn read_aim<'a>(get: impl Fn(&str) -> &'a str, body: &Body) -> Result<Aim, FieldErrors> {
    let (aim, point) = (get("aim").trim(), get("point").trim());
    if !point.is_empty() {
        let spot = Spot::parse_point(point).and_then(|spot| Aim::at(spot, body));
        return spot.map_err(|error| FieldErrors::one("point", error.to_string()));
    }
    let spot = if aim.is_empty() { Some(Spot::Middle) } else { Spot::from_key(aim) };
    let spot = spot.ok_or_else(|| FieldErrors::one("aim", "choose one of those offered"))?;
    Aim::at(spot, body).map_err(|error| FieldErrors::one("aim", error.to_string()))
}

/// The values of the two fields.
pub fn aim_values(aim: Aim) -> [(&'static str, String); 2] {
    use crate::calc::working::plain;
    match aim.spot() {
        Spot::Point { across_mm, up_mm } => {
            [("aim", "middle".to_owned()), ("point", format!("{} x {}", plain(across_mm), plain(up_mm)))]
        }
        named => [("aim", named.key().to_owned()), ("point", String::new())],
    }
}
