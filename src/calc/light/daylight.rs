//! Daylight by the height of the sun and the kind of sky.
//!
//! IES Calculation Procedures Committee, Recommended Practice for the Calculation of Daylight
//! Availability, JIES 13(4), 1984. Extraterrestrial and direct parts found in code that implements
//! the paper; the constants of the sky part are from memory, supported by the paper's half-sky forms.
//! Mean design values: a given moment may have twice or half as much (one stop either way).

use crate::calc::quantity::quantities;
use crate::calc::working::{Working, plain, scaled};

quantities! {
    /// Height of the sun over the horizon.
    SolarAltitude, "solar altitude", "°", as_deg, -90.0, 90.0;
    /// Illuminance of the sun outside the air at its mean distance.
    SolarConstant, "solar constant", "klx", as_klx, 100.0, 160.0;
}

/// The solar illuminance constant used unless another is given, klx.
pub const SOLAR_CONSTANT_KLX: f64 = 127.5;
/// What to allow for a mean value against a given moment, in stops.
pub const SD_STOPS: f64 = 1.0;

/// Kinds of sky by cloud cover.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CloudCover {
    /// Clear: up to three tenths.
    Clear,
    /// Partly cloudy: four to seven tenths.
    PartlyCloudy,
    /// Cloudy: eight tenths and more; no direct sun.
    Cloudy,
}

/// Illuminances in klx.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Daylight {
    /// Outside the air, facing the sun.
    pub extraterrestrial_klx: f64,
    /// Direct sun on a surface facing it.
    pub direct_normal_klx: f64,
    /// Direct sun on the ground.
    pub direct_horizontal_klx: f64,
    /// Light of the sky on the ground.
    pub sky_horizontal_klx: f64,
}

impl Daylight {
    /// Sun and sky on the ground.
    pub fn total_horizontal_klx(self) -> f64 {
        self.direct_horizontal_klx + self.sky_horizontal_klx
    }
}

impl CloudCover {
    /// All of them, clearest first.
    pub const ALL: [Self; 3] = [Self::Clear, Self::PartlyCloudy, Self::Cloudy];

    /// In words, with the share of the sky that is covered.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Clear => "clear sky",
            Self::PartlyCloudy => "partly cloudy sky",
            Self::Cloudy => "cloudy sky",
        }
    }

    /// A short stable name for forms and records.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Clear => "clear",
            Self::PartlyCloudy => "partly-cloudy",
            Self::Cloudy => "cloudy",
        }
    }

    /// The cover of a [`Self::key`].
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|cover| cover.key() == key)
    }

    /// Extinction coefficient of the direct sun; none gets through a cloudy sky.
    const fn extinction(self) -> Option<f64> {
        match self {
            Self::Clear => Some(0.21),
            Self::PartlyCloudy => Some(0.80),
            Self::Cloudy => None,
        }
    }

    /// A, B and C of the sky's light on the ground, `A + B sin^C(altitude)` klx.
    const fn sky(self) -> (f64, f64, f64) {
        match self {
            Self::Clear => (0.8, 15.5, 0.5),
            Self::PartlyCloudy => (0.3, 45.0, 1.0),
            Self::Cloudy => (0.3, 21.0, 1.0),
        }
    }
}

/// Daylight for a height of the sun on a day of the year (1 to 366). With the sun below the horizon
/// there is none.
pub fn daylight(altitude: SolarAltitude, day_of_year: u16, sky: CloudCover, constant: SolarConstant) -> Daylight {
    let turn = std::f64::consts::TAU * (f64::from(day_of_year) - 2.0) / 365.0;
    let extraterrestrial_klx = constant.as_klx() * (1.0 + 0.034 * turn.cos());
    let sine = altitude.as_deg().to_radians().sin();
    if sine < 0.0 {
        return Daylight {
            extraterrestrial_klx,
            direct_normal_klx: 0.0,
            direct_horizontal_klx: 0.0,
            sky_horizontal_klx: 0.0,
        };
    }
    // The air mass is 1/sin; on the horizon itself the exponential is 0.
    let direct = sky.extinction().map_or(0.0, |c| extraterrestrial_klx * (-c / sine).exp());
    let (a, b, c) = sky.sky();
    Daylight {
        extraterrestrial_klx,
        direct_normal_klx: direct,
        direct_horizontal_klx: direct * sine,
        sky_horizontal_klx: a + b * sine.powf(c),
    }
}

/// [`daylight`] with its working.
pub fn daylight_working(
    altitude: SolarAltitude,
    day_of_year: u16,
    sky: CloudCover,
    constant: SolarConstant,
) -> Working {
    let light = daylight(altitude, day_of_year, sky, constant);
    let klx = |x: f64| scaled(x, 3);
    let (total, a) = (light.total_horizontal_klx(), plain(altitude.as_deg()));
    let outside = format!(
        "Ext = Esc (1 + 0.034 cos(2π (J − 2) / 365)) = {} × (1 + 0.034 cos(2π ({day_of_year} − 2) / 365)) = {} klx",
        plain(constant.as_klx()),
        klx(light.extraterrestrial_klx)
    );
    let (below, (sky_a, sky_b, sky_c)) = (altitude.as_deg() < 0.0, sky.sky());
    let direct = match sky.extinction() {
        None => "no direct sun through clouds".to_owned(),
        Some(c) => format!(
            "Edn = Ext exp(−c / sin a) = {} × exp(−{} / sin {a}°) = {} klx; Edh = Edn sin a = {} klx",
            klx(light.extraterrestrial_klx),
            plain(c),
            klx(light.direct_normal_klx),
            klx(light.direct_horizontal_klx)
        ),
    };
    let formula = if below {
        format!("{outside}; the sun is below the horizon: no daylight")
    } else {
        format!(
            "{outside}; {direct}; Ekh = A + B sin^C(a) = {} + {} × sin^{}({a}°) = {} klx; together {} klx",
            plain(sky_a),
            plain(sky_b),
            plain(sky_c),
            klx(light.sky_horizontal_klx),
            klx(total)
        )
    };
    let working = Working::of(
        "daylight on the ground",
        format!("{} klx", klx(total)),
        formula,
        "IES, Calculation of Daylight Availability, JIES 13(4), 1984, found in code that implements it; the constants of the \
         sky's light are from memory, supported by the paper's half-sky forms",
    );
    if below {
        return working;
    }
    working.within(format!(
        "mean values: a given moment may have twice or half as much, {} to {} klx",
        klx(total / 2.0),
        klx(total * 2.0)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(altitude: f64, sky: CloudCover) -> Daylight {
        daylight(SolarAltitude::new(altitude).unwrap(), 172, sky, SolarConstant::new(SOLAR_CONSTANT_KLX).unwrap())
    }

    #[test]
    fn night_has_no_daylight() {
        let night = at(-0.5, CloudCover::Clear);
        assert_eq!(night.total_horizontal_klx(), 0.0);
        assert_eq!(at(0.0, CloudCover::Clear).direct_normal_klx, 0.0);
    }

    proptest! {
        #[test]
        fn a_higher_sun_gives_more_light(a in 0.0..89.0f64) {
            for sky in [CloudCover::Clear, CloudCover::PartlyCloudy, CloudCover::Cloudy] {
                let (low, high) = (at(a, sky), at(a + 1.0, sky));
                prop_assert!(high.total_horizontal_klx() > low.total_horizontal_klx());
                prop_assert!(high.direct_normal_klx >= low.direct_normal_klx);
            }
        }
    }
}
