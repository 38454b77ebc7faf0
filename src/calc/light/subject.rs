//! Daylight on an upright subject that faces the camera.
//!
//! `Ev = Edn cos(a) cos(d) + Ekh / 2 + rho Egh / 2`: direct sun by the angle at which it meets the
//! subject, half of the sky, and the half of the ground that it sees (isotropic sky and ground; from
//! memory, common in daylight practice, no source seen). Against the ANSI sky table it gives, for a
//! clear sky and the sun at 45 degrees, EV 15.0 from the front, 14.2 from the side, 12.6 from behind
//! and 11.7 in open shade, where the table has 15, 14, 13 and 12.

use crate::calc::light::daylight::{self, CloudCover, Daylight, SOLAR_CONSTANT_KLX, SolarAltitude, SolarConstant};
use crate::calc::light::exposure::{METER_CONSTANT_C, light_value_of_illuminance};
use crate::calc::light::sky::{Light, SunFrom};
use crate::calc::quantity::{Illuminance, MeterConstantC};
use crate::calc::working::{Working, figures};

/// Share of the light that the ground sends back: grass, earth, asphalt (from memory).
pub const GROUND_REFLECTANCE: f64 = 0.2;

/// How far aside of the camera a sun "from the side" stands: half of the frontal sun meets the
/// subject, as the sky table has it with its one stop.
const SIDE_DEG: f64 = 60.0;

/// Light on the subject from the height of the sun.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SubjectLight {
    /// The day's light on the ground.
    pub daylight: Daylight,
    /// Illuminance on the subject's side that faces the camera, klx.
    pub subject_klx: f64,
    /// The same as an exposure value, with its spread.
    pub light: Light,
}

/// The light on a subject at a height of the sun on a day of the year (1 to 366). `None` while the
/// sun is below the horizon: no formula here tells twilight.
pub fn subject_light(altitude: SolarAltitude, day_of_year: u16, sky: CloudCover, sun: SunFrom) -> Option<SubjectLight> {
    if altitude.as_deg() < 0.0 {
        return None;
    }
    let daylight = daylight::daylight(altitude, day_of_year, sky, SolarConstant::new(SOLAR_CONSTANT_KLX).ok()?);
    let towards = match sun {
        SunFrom::Front => 1.0,
        SunFrom::Side => SIDE_DEG.to_radians().cos(),
        SunFrom::Back | SunFrom::Shade => 0.0,
    };
    let direct = daylight.direct_normal_klx * altitude.as_deg().to_radians().cos() * towards;
    // in open shade the ground before the subject has no sun either
    let ground = if sun == SunFrom::Shade { daylight.sky_horizontal_klx } else { daylight.total_horizontal_klx() };
    let subject_klx = direct + 0.5 * daylight.sky_horizontal_klx + 0.5 * GROUND_REFLECTANCE * ground;
    let lux = Illuminance::new(subject_klx * 1000.0).ok()?;
    let ev100 = light_value_of_illuminance(lux, MeterConstantC::new(METER_CONSTANT_C).ok()?);
    let light = Light {
        ev100,
        sd_stops: daylight::SD_STOPS,
        source: "sun's height (NREL/TP-560-34302), daylight by IES, JIES 13(4), 1984: mean values, a given moment \
                 may have twice or half as much",
    };
    Some(SubjectLight { daylight, subject_klx, light })
}

/// The same with its working.
pub fn subject_light_working(altitude: SolarAltitude, sun: SunFrom, found: SubjectLight) -> Working {
    let day = found.daylight;
    Working {
        name: "light on the subject",
        value: format!("{} klx, EV {}", figures(found.subject_klx, 3), figures(found.light.ev100.as_ev(), 3)),
        formula: format!(
            "sun {}° high: {} klx facing it, {} klx of sun and sky on the ground, of which {} klx sky; {}: Ev = Edn cos(a) \
             cos(d) + Ekh / 2 + 0.2 Egh / 2 = {} klx",
            figures(altitude.as_deg(), 3),
            figures(day.direct_normal_klx, 3),
            figures(day.total_horizontal_klx(), 3),
            figures(day.sky_horizontal_klx, 3),
            sun.label(),
            figures(found.subject_klx, 3)
        ),
        source: found.light.source,
        interval: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ev(altitude: f64, sky: CloudCover, sun: SunFrom) -> f64 {
        subject_light(SolarAltitude::new(altitude).unwrap(), 79, sky, sun).unwrap().light.ev100.as_ev()
    }

    /// ANSI PH2.7 sky conditions: 15 in full sun, one less from the side, two from behind, 12 in open
    /// shade under a clear sky, 12 to 13 without shadows. The table holds for any height of the sun and a
    /// single moment for none: they agree within the stop that IES allows a given moment.
    #[test]
    fn at_middling_heights_it_agrees_with_the_sky_table() {
        for altitude in [30.0, 45.0, 60.0] {
            for (sun, table) in
                [(SunFrom::Front, 15.0), (SunFrom::Side, 14.0), (SunFrom::Back, 13.0), (SunFrom::Shade, 12.0)]
            {
                let ev = ev(altitude, CloudCover::Clear, sun);
                assert!((ev - table).abs() < 1.0, "{altitude} {sun:?}: {ev} {table}");
            }
        }
        let cloudy = ev(45.0, CloudCover::Cloudy, SunFrom::Front);
        assert!((cloudy - 12.0).abs() < 0.75, "{cloudy}");
    }

    #[test]
    fn below_the_horizon_there_is_no_figure() {
        assert_eq!(subject_light(SolarAltitude::new(-0.1).unwrap(), 79, CloudCover::Clear, SunFrom::Front), None);
    }

    proptest! {
        #[test]
        fn the_front_is_brightest_and_shade_darkest(a in 0.0..90.0f64) {
            for sky in [CloudCover::Clear, CloudCover::PartlyCloudy, CloudCover::Cloudy] {
                let of = |sun| ev(a, sky, sun);
                prop_assert!(of(SunFrom::Front) >= of(SunFrom::Side));
                prop_assert!(of(SunFrom::Side) >= of(SunFrom::Back));
                prop_assert!(of(SunFrom::Back) >= of(SunFrom::Shade));
                prop_assert!(of(SunFrom::Shade).is_finite());
            }
        }
    }
}
