//! Light by the height of the sun: where the site is, when, under which sky.

use jiff::tz::TimeZone;

use crate::calc::{
    light::{
        daylight::{CloudCover, SolarAltitude},
        sky::{Light, SunFrom},
        subject::{SubjectLight, subject_light},
        sun::{Place, sun_position},
    },
    working::figures,
};

use crate::domain::instant::Instant;

/// Where and when somebody asks for the light: what the height of the sun needs.
#[derive(Clone, Debug)]
pub struct Whereabouts {
    /// Where the site is; `None` until somebody has entered it.
    pub place: Option<Place>,
    /// The site's time zone, which decides the day of the year.
    pub zone: TimeZone,
    /// The moment.
    pub at: Instant,
}

/// The sun as it stood, and what kind of sky there was.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SunFound {
    /// Kind of sky.
    pub cover: CloudCover,
    /// Where the sun stood as seen from the camera.
    pub sun: SunFrom,
    /// Height of the sun, tenths of a degree: finer than any forecast needs, and kept exactly.
    altitude_tenths: i16,
    day_of_year: u16,
}

/// The sun's height gives no light.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoSun {
    /// Nobody has said where the site is.
    #[error("the site’s latitude and longitude are not entered: describe the sky, or type a meter reading")]
    NoPlace,
    /// It is night there.
    #[error("the sun is below the horizon at that time: type a meter reading")]
    BelowHorizon,
}

impl Whereabouts {
    /// Height of the sun over the horizon, degrees; `None` without a place.
    pub fn altitude_deg(&self) -> Option<f64> {
        let sun = sun_position(self.at.as_timestamp(), self.place?, None).ok()?;
        Some(sun.altitude_deg())
    }

    /// The same at another moment.
    #[must_use]
    pub fn at(&self, at: Instant) -> Self {
        Self { at, ..self.clone() }
    }

    /// The sun under a kind of sky.
    ///
    /// # Errors
    /// Without a place, and at night.
    pub fn sun(&self, cover: CloudCover, sun: SunFrom) -> Result<SunFound, NoSun> {
        let altitude = self.altitude_deg().ok_or(NoSun::NoPlace)?;
        let altitude_tenths = (altitude * 10.0).round() as i16;
        if altitude_tenths < 0 {
            return Err(NoSun::BelowHorizon);
        }
        let day_of_year = u16::try_from(self.at.local(&self.zone).date().day_of_year()).unwrap_or(1);
        Ok(SunFound { cover, sun, altitude_tenths, day_of_year })
    }

    /// Whether the table of skies holds now: from two hours after sunrise to two before sunset.
    /// `None` without a place.
    pub fn sky_table_holds(&self) -> Option<bool> {
        let up = |minutes: i64| self.at(self.at.plus_minutes(minutes)).altitude_deg().map(|deg| deg > 0.0);
        Some(up(-120)? && up(120)?)
    }
}

impl SunFound {
    /// Height of the sun, degrees.
    pub fn altitude(self) -> SolarAltitude {
        let degrees = f64::from(self.altitude_tenths) / 10.0;
        SolarAltitude::new(degrees.clamp(0.0, 90.0)).unwrap_or_else(|_| unreachable!("clamped into range"))
    }

    /// What it puts on the subject.
    pub fn on_subject(self) -> SubjectLight {
        subject_light(self.altitude(), self.day_of_year, self.cover, self.sun)
            .unwrap_or_else(|| unreachable!("the sun is over the horizon"))
    }

    /// The light with its spread.
    pub fn light(self) -> Light {
        self.on_subject().light
    }

    /// In words, as it is stored: `clear sky, sun 41.3° high on day 79; sun from the side`.
    pub fn in_words(self) -> String {
        let degrees = figures(f64::from(self.altitude_tenths) / 10.0, 4);
        let degrees =
            if degrees.contains('.') { degrees.trim_end_matches('0').trim_end_matches('.') } else { &degrees };
        format!("{}, sun {degrees}° high on day {}; {}", self.cover.label(), self.day_of_year, self.sun.label())
    }

    /// From what [`SunFound::in_words`] wrote.
    pub fn parse_words(words: &str) -> Option<Self> {
        let (before, sun) = words.split_once("; ")?;
        let (cover, rest) = before.split_once(", sun ")?;
        let (degrees, day) = rest.split_once("° high on day ")?;
        let tenths = (degrees.parse::<f64>().ok()? * 10.0).round();
        let day_of_year: u16 = day.parse().ok()?;
        if !(0.0..=900.0).contains(&tenths) || !(1..=366).contains(&day_of_year) {
            return None;
        }
        Some(Self {
            cover: CloudCover::ALL.into_iter().find(|known| known.label() == cover)?,
            sun: SunFrom::ALL.into_iter().find(|known| known.label() == sun)?,
            altitude_tenths: tenths as i16,
            day_of_year,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::light::sun::{
        AirTemperature, Latitude, Longitude, SiteElevation, TEMPERATURE_C, standard_pressure,
    };

    fn denver(time: &str) -> Whereabouts {
        let elevation = SiteElevation::new(1600.0).expect("in range");
        let place = Place {
            latitude: Latitude::new(39.74).expect("in range"),
            longitude: Longitude::new(-104.99).expect("in range"),
            elevation,
            pressure: standard_pressure(elevation),
            temperature: AirTemperature::new(TEMPERATURE_C).expect("in range"),
        };
        let zone = TimeZone::get("America/Denver").expect("bundled zones");
        let at = Instant::from_local(time, &zone).expect("a time");
        Whereabouts { place: Some(place), zone, at }
    }

    /// At the March equinox the sun culminates at 90° less the latitude, 50.3°, near 13:07 local time
    /// (longitude 105° is the zone's meridian, daylight saving one hour, equation of time 7 min).
    #[test]
    fn at_noon_of_the_equinox_the_sun_stands_at_the_colatitude() {
        let high = denver("2026-03-20T13:07").altitude_deg().expect("a place");
        assert!((high - 50.3).abs() < 0.2, "{high}");
        let found = denver("2026-03-20T13:07").sun(CloudCover::Clear, SunFrom::Front).expect("day");
        assert!((found.light().ev100.as_ev() - 15.0).abs() < 0.3, "{found:?}");
    }

    #[test]
    fn at_night_and_without_a_place_there_is_no_figure() {
        let night = denver("2026-03-20T22:00");
        assert_eq!(night.sun(CloudCover::Clear, SunFrom::Front), Err(NoSun::BelowHorizon));
        let nowhere = Whereabouts { place: None, ..night };
        assert_eq!(nowhere.sun(CloudCover::Clear, SunFrom::Front), Err(NoSun::NoPlace));
        assert_eq!(nowhere.sky_table_holds(), None);
    }

    #[test]
    fn the_table_of_skies_holds_from_two_hours_after_sunrise_to_two_before_sunset() {
        // sunrise about 7:04, sunset about 19:11 on that day (published almanac figures, from memory)
        for (time, holds) in [("08:30", false), ("09:20", true), ("16:50", true), ("17:40", false)] {
            assert_eq!(denver(&format!("2026-03-20T{time}")).sky_table_holds(), Some(holds), "{time}");
        }
    }

    #[test]
    fn the_words_that_are_stored_give_the_same_light_again() {
        for time in ["2026-03-20T08:10", "2026-06-20T13:00", "2026-12-21T16:00"] {
            for cover in CloudCover::ALL {
                for sun in SunFrom::ALL {
                    let found = denver(time).sun(cover, sun).expect("day");
                    let words = found.in_words();
                    assert_eq!(SunFound::parse_words(&words), Some(found), "{words}");
                }
            }
        }
    }
}
