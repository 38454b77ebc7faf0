//! A site: one teaching darkroom, its place and its own rules.

pub mod example_rules;
pub mod position;
pub mod site_rule;
pub mod site_waste;

use jiff::tz::TimeZone;

use crate::calc::light::sun::{
    AirTemperature, Latitude, Longitude, Place, SiteElevation, TEMPERATURE_C, standard_pressure,
};

use super::ids::SiteId;

/// A site. Texts that nobody entered are empty; a page then says “not entered: ask your safety office”.
#[derive(Clone, Debug, PartialEq)]
pub struct Site {
    /// Its id.
    pub id: SiteId,
    /// What it is called.
    pub name: String,
    /// Where it is, in words.
    pub place: String,
    /// Its time zone.
    pub zone: TimeZone,
    /// Latitude and longitude, millionths of a degree, north and east positive.
    pub position: Option<(i64, i64)>,
    /// Height above the sea, metres.
    pub elevation_m: i64,
    /// Whom to call about waste.
    pub disposal_contact: String,
    /// The title the site requires on waste labels.
    pub waste_title: String,
    /// The number to call when something goes wrong.
    pub emergency_line: String,
    /// The site's own limit for silver, micrograms per litre.
    pub silver_limit_ug_per_l: Option<i64>,
    /// Where that limit comes from.
    pub silver_limit_source: String,
    /// Counts edits.
    pub version: i64,
}

impl Site {
    /// Where it is, for the height of the sun; `None` until somebody has entered it.
    pub fn on_earth(&self) -> Option<Place> {
        let (latitude, longitude) = self.position?;
        let elevation = SiteElevation::new(self.elevation_m as f64).ok()?;
        Some(Place {
            latitude: Latitude::new(latitude as f64 / 1e6).ok()?,
            longitude: Longitude::new(longitude as f64 / 1e6).ok()?,
            elevation,
            pressure: standard_pressure(elevation),
            temperature: AirTemperature::new(TEMPERATURE_C).ok()?,
        })
    }
}
