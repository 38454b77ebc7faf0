//! Where the sun stands: the solar position algorithm of Reda and Andreas (NREL/TP-560-34302), from
//! a kept crate.

use jiff::Timestamp;
use solar_positioning::time::JulianDate;
use solar_positioning::{Location, RefractionCorrection, SolarPositions, delta_t};

use crate::calc::quantity::quantities;
use crate::calc::working::{Working, figures, plain};

quantities! {
    /// Latitude, north positive.
    Latitude, "latitude", "°", as_deg, -90.0, 90.0;
    /// Longitude, east positive.
    Longitude, "longitude", "°", as_deg, -180.0, 180.0;
    /// Height above the sea.
    SiteElevation, "elevation", "m", as_m, -500.0, 9000.0;
    /// Air pressure at the site, not reduced to the sea.
    AirPressure, "air pressure", "hPa", as_hpa, 250.0, 1100.0;
    /// Temperature of the air.
    AirTemperature, "air temperature", "°C", as_c, -70.0, 60.0;
    /// Difference between the even time of the planets and the time of the turning Earth.
    DeltaT, "delta T", "s", as_s, -100.0, 300.0;
}

/// Where the camera stands and the air over it, which bends the light of a low sun.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Latitude.
    pub latitude: Latitude,
    /// Longitude.
    pub longitude: Longitude,
    /// Height above the sea.
    pub elevation: SiteElevation,
    /// Air pressure.
    pub pressure: AirPressure,
    /// Air temperature.
    pub temperature: AirTemperature,
}

/// Air temperature where none is given, °C.
pub const TEMPERATURE_C: f64 = 12.0;

/// The pressure of the standard atmosphere at a height (ISO 2533, from memory):
/// `1013.25 (1 - 2.25577e-5 h)^5.25588` hPa.
pub fn standard_pressure(elevation: SiteElevation) -> AirPressure {
    AirPressure::computed(1013.25 * (1.0 - 2.255_77e-5 * elevation.as_m()).powf(5.255_88))
}

/// Direction of the sun.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SunPosition {
    /// Angle from straight overhead as seen through the air, in degrees.
    pub zenith_deg: f64,
    /// Direction along the horizon, from north through east, in degrees.
    pub azimuth_deg: f64,
}

impl SunPosition {
    /// Apparent height over the horizon in degrees, negative below it.
    pub fn altitude_deg(self) -> f64 {
        90.0 - self.zenith_deg
    }
}

/// An instant outside the years for which the position is computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("time must be from the years 1900 to 2199")]
pub struct OutsideYears;

/// Position of the sun at an instant. Without `delta_t` an estimate for the date is used.
///
/// # Errors
/// [`OutsideYears`] before 1900 or after 2199.
pub fn sun_position(at: Timestamp, place: Place, delta_t: Option<DeltaT>) -> Result<SunPosition, OutsideYears> {
    let julian_day = julian_day(at);
    let delta_t = delta_t_at(at, delta_t)?;
    let location = Location { latitude: place.latitude.as_deg(), longitude: place.longitude.as_deg() };
    let air = RefractionCorrection::new(place.pressure.as_hpa(), place.temperature.as_c()).ok();
    let position = JulianDate::new(julian_day, delta_t)
        .and_then(|time| {
            let spa = SolarPositions::new();
            spa.at_from_julian(time, location, place.elevation.as_m(), air)
        })
        .map_err(|_| OutsideYears)?;
    Ok(SunPosition { zenith_deg: position.zenith_angle(), azimuth_deg: position.azimuth() })
}

fn unix_s(at: Timestamp) -> f64 {
    at.as_millisecond() as f64 / 1000.0
}

fn julian_day(at: Timestamp) -> f64 {
    unix_s(at) / 86_400.0 + 2_440_587.5
}

/// The ΔT given, or an estimate for the date, in seconds.
fn delta_t_at(at: Timestamp, given: Option<DeltaT>) -> Result<f64, OutsideYears> {
    let year = 1970.0 + unix_s(at) / (365.2425 * 86_400.0);
    if !(1900.0..2200.0).contains(&year) {
        return Err(OutsideYears);
    }
    match given {
        Some(given) => Ok(given.as_s()),
        None => delta_t::estimate(year).map_err(|_| OutsideYears),
    }
}

/// [`sun_position`] with its working: what went into the algorithm and what came out.
///
/// # Errors
/// [`OutsideYears`] before 1900 or after 2199.
pub fn sun_position_working(at: Timestamp, place: Place, delta_t: Option<DeltaT>) -> Result<Working, OutsideYears> {
    let sun = sun_position(at, place, delta_t)?;
    let estimate = if delta_t.is_some() { "" } else { ", estimated for the date" };
    let (altitude, azimuth) = (figures(sun.altitude_deg(), 4), figures(sun.azimuth_deg, 5));
    Ok(Working::of(
        "height of the sun",
        format!("{altitude}° high, {azimuth}° from north through east"),
        format!(
            "solar position algorithm at Julian day {:.5}, ΔT = {} s{estimate}, latitude {}°, longitude {}°, {} m high, {} hPa, {} \
             °C: apparent zenith angle {}°; altitude = 90° − {}° = {altitude}°",
            julian_day(at),
            figures(delta_t_at(at, delta_t)?, 3),
            plain(place.latitude.as_deg()),
            plain(place.longitude.as_deg()),
            plain(place.elevation.as_m()),
            figures(place.pressure.as_hpa(), 4),
            plain(place.temperature.as_c()),
            figures(sun.zenith_deg, 5),
            figures(sun.zenith_deg, 5),
        ),
        "Reda and Andreas, Solar position algorithm, NREL/TP-560-34302, by a general library; checked against the report's \
         worked example",
    )
    .within("± 0.0003° as its authors state (value from memory); near the horizon the air bends the light by more than that"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn pressure_falls_with_height_and_stays_in_range() {
        let at = |m| standard_pressure(SiteElevation::new(m).unwrap()).as_hpa();
        assert!((at(1655.0) - 829.6).abs() < 0.1, "{}", at(1655.0));
        assert!(AirPressure::new(at(SiteElevation::MIN)).is_ok());
        assert!(AirPressure::new(at(SiteElevation::MAX)).is_ok());
    }

    proptest! {
        #[test]
        fn the_sun_always_has_a_direction(
            s in -2_208_900_000i64..7_250_000_000i64, lat in -90.0..=90.0f64, lon in -180.0..=180.0f64,
        ) {
            let elevation = SiteElevation::new(0.0).unwrap();
            let place = Place {
                latitude: Latitude::new(lat).unwrap(),
                longitude: Longitude::new(lon).unwrap(),
                elevation,
                pressure: standard_pressure(elevation),
                temperature: AirTemperature::new(TEMPERATURE_C).unwrap(),
            };
            let sun = sun_position(Timestamp::from_second(s).unwrap(), place, None).unwrap();
            prop_assert!((0.0..=180.0).contains(&sun.zenith_deg), "{sun:?}");
            prop_assert!((0.0..360.0).contains(&sun.azimuth_deg), "{sun:?}");
        }
    }
}
