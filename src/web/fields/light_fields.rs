//! The controls with which somebody says what the light is, for the forecast and for a record.

use askama::Template;

use crate::{
    calc::light::{
        daylight::CloudCover,
        sky::{Sky, SunFrom},
    },
    domain::{
        exposure::{found_light::FoundLight, sun_found::Whereabouts},
        field_errors::FieldErrors,
    },
};

use crate::web::kit::form::{Control, Form};

/// The three controls: a sky, where the sun stands, and a reading that is used instead.
#[derive(Debug, Template)]
#[template(path = "parts/light_fields.html")]
pub struct LightFields {
    sky: Control,
    sun: Control,
    reading: Control,
}

impl askama::filters::HtmlSafe for LightFields {}

impl LightFields {
    /// The controls of a form. `by_sun` offers the kinds of sky that need the sun's height, so only where
    /// the site has said where it is.
    pub fn of(form: &Form, by_sun: bool) -> Self {
        let mut skies = vec![(String::new(), "choose, or type a reading below".to_owned())];
        skies.extend(Sky::ALL.into_iter().map(|sky| (sky.key().to_owned(), sky.label().to_owned())));
        if by_sun {
            let by_height =
                |cover: CloudCover| (cover.key().to_owned(), format!("{}, by the height of the sun", cover.label()));
            skies.extend(CloudCover::ALL.into_iter().map(by_height));
        }
        let suns: Vec<_> = SunFrom::ALL.into_iter().map(|sun| (sun.key().to_owned(), sun.label().to_owned())).collect();
        let hint = if by_sun {
            "with a low sun the kinds “by the height of the sun” are the better choice"
        } else {
            "holds from two hours after sunrise to two before sunset"
        };
        Self {
            sky: form.select("sky", "Sky over the subject", &skies).hint(hint),
            sun: form.select("sun", "Where the sun is", &suns).hint("counts only when it throws shadows"),
            reading: form
                .text("reading", "Meter reading, if you have one")
                .hint("EV 14.5, or 1/125 f/16 ISO 100, or 5200 lx; it is surer than the sky and is used instead of it")
                .optional()
                .attribute("autocomplete", "off"),
        }
    }
}

/// Reads the light from fields called `sky`, `sun` and `reading`. Kinds of sky that need the sun's
/// height take it from `here`.
///
/// # Errors
/// A message beside the field that is missing or cannot be read.
pub fn read_light<'a>(get: impl Fn(&str) -> &'a str, here: &Whereabouts) -> Result<FoundLight, FieldErrors> {
    let (sky, sun, reading) = (get("sky").trim(), get("sun").trim(), get("reading").trim());
    if !reading.is_empty() {
        return FoundLight::parse_reading(reading).map_err(|error| FieldErrors::one("reading", error.to_string()));
    }
    let mut errors = FieldErrors::none();
    let (described, cover) = (Sky::from_key(sky), CloudCover::from_key(sky));
    if described.is_none() && cover.is_none() {
        errors.add("sky", "describe the sky, or type a meter reading");
    }
    let sun_found = if sun.is_empty() { Some(SunFrom::Front) } else { SunFrom::from_key(sun) };
    if sun_found.is_none() {
        errors.add("sun", "choose one of those offered");
    }
    match (described, cover, sun_found) {
        (Some(sky), _, Some(sun)) => Ok(FoundLight::Sky(sky, sun)),
        (None, Some(cover), Some(sun)) => {
            here.sun(cover, sun).map(FoundLight::Sun).map_err(|error| FieldErrors::one("sky", error.to_string()))
        }
        _ => Err(errors),
    }
}

/// The values of the three fields for a light.
pub fn light_values(light: FoundLight) -> [(&'static str, String); 3] {
    match light {
        FoundLight::Sky(sky, sun) => {
            [("sky", sky.key().to_owned()), ("sun", sun.key().to_owned()), ("reading", String::new())]
        }
        FoundLight::Sun(found) => {
            [("sky", found.cover.key().to_owned()), ("sun", found.sun.key().to_owned()), ("reading", String::new())]
        }
        reading => [("sky", String::new()), ("sun", String::new()), ("reading", reading.reading())],
    }
}

/// The query that asks for the forecast in a light: `sky=full-sun&sun=front&reading=`.
pub fn light_query(light: FoundLight) -> String {
    form_urlencoded::Serializer::new(String::new()).extend_pairs(light_values(light)).finish()
}
