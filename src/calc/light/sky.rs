//! Light from a description of the sky, when there is nothing better.
//!
//! EV at ISO 100 by condition: ANSI PH2.7-1973/1986 as tabulated in public references. It holds
//! from about two hours after sunrise to two hours before sunset. The spread beside each is our
//! own judgement; the standard gives none.

use crate::calc::quantity::{Ev100, OutOfRange};

const SOURCE: &str = "ANSI PH2.7 sky conditions at ISO 100; the spread is our own judgement";

/// Standard deviation, in stops, of the light under the sky that is told apart best, full sun: our own
/// judgement, no source (the standard gives none). The least of the table.
pub const SD_SURE: f64 = 0.4;
/// The same under skies that are told apart fairly well: our own judgement, no source.
const SD_USUAL: f64 = 0.5;
/// The same under overcast and in shade, which differ most: our own judgement, no source.
const SD_WIDE: f64 = 0.7;
/// The same round sunset, tabulated from 12 to 14 EV: our own judgement, no source. The greatest of the table.
pub const SD_WIDEST: f64 = 1.0;
/// The same of a meter reading, a third of a stop for the meter and where it was pointed: our own
/// judgement, no source.
pub const SD_METERED: f64 = 1.0 / 3.0;

/// A condition of the sky over the subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Sky {
    /// Sand or snow in full sun.
    SandOrSnow,
    /// Full or slightly hazy sun, distinct shadows.
    FullSun,
    /// Hazy sun, soft shadows.
    HazySun,
    /// Cloudy but bright, no shadows.
    CloudyBright,
    /// Heavy overcast.
    HeavyOvercast,
    /// Open shade under a clear sky.
    OpenShade,
    /// The hour before sunset.
    BeforeSunset,
    /// At sunset.
    Sunset,
}

/// Where the sun stands as seen from the camera.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum SunFrom {
    /// Behind the camera: the subject is lit from the front.
    #[default]
    Front,
    /// From the side: one stop less.
    Side,
    /// Behind the subject: two stops less.
    Back,
    /// Nowhere on it: the subject stands in open shade.
    Shade,
}

/// Light on the subject with its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Light {
    /// Exposure value at ISO 100.
    pub ev100: Ev100,
    /// Standard deviation in stops.
    pub sd_stops: f64,
    /// Where the figure comes from.
    pub source: &'static str,
}

impl Sky {
    /// Every condition, brightest first, as a form lists them.
    pub const ALL: [Self; 8] = [
        Self::SandOrSnow,
        Self::FullSun,
        Self::HazySun,
        Self::CloudyBright,
        Self::HeavyOvercast,
        Self::OpenShade,
        Self::BeforeSunset,
        Self::Sunset,
    ];

    /// The condition in words.
    pub const fn label(self) -> &'static str {
        match self {
            Self::SandOrSnow => "sand or snow in full sun",
            Self::FullSun => "full sun, distinct shadows",
            Self::HazySun => "hazy sun, soft shadows",
            Self::CloudyBright => "cloudy but bright, no shadows",
            Self::HeavyOvercast => "heavy overcast",
            Self::OpenShade => "open shade under a clear sky",
            Self::BeforeSunset => "the hour before sunset",
            Self::Sunset => "at sunset",
        }
    }

    /// A short stable name for forms and records.
    pub const fn key(self) -> &'static str {
        match self {
            Self::SandOrSnow => "sand-or-snow",
            Self::FullSun => "full-sun",
            Self::HazySun => "hazy-sun",
            Self::CloudyBright => "cloudy-bright",
            Self::HeavyOvercast => "heavy-overcast",
            Self::OpenShade => "open-shade",
            Self::BeforeSunset => "before-sunset",
            Self::Sunset => "sunset",
        }
    }

    /// The condition of a [`Self::key`].
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|sky| sky.key() == key)
    }

    /// Whether the sun throws shadows, so that it matters where it stands.
    pub const fn has_shadows(self) -> bool {
        matches!(self, Self::SandOrSnow | Self::FullSun | Self::HazySun)
    }

    /// EV at ISO 100 with the sun behind the camera.
    pub const fn ev100(self) -> Ev100 {
        Ev100::computed(match self {
            Self::SandOrSnow => 16.0,
            Self::FullSun => 15.0,
            Self::HazySun => 14.0,
            // "Before sunset" is tabulated as 12 to 14.
            Self::CloudyBright | Self::BeforeSunset => 13.0,
            Self::HeavyOvercast | Self::OpenShade | Self::Sunset => 12.0,
        })
    }

    const fn sd_stops(self) -> f64 {
        match self {
            Self::FullSun => SD_SURE,
            Self::SandOrSnow | Self::HazySun | Self::CloudyBright => SD_USUAL,
            Self::HeavyOvercast | Self::OpenShade => SD_WIDE,
            Self::BeforeSunset | Self::Sunset => SD_WIDEST,
        }
    }

    /// The light on a subject under this sky. Where the sun throws no shadows its place is
    /// ignored.
    pub fn light(self, sun: SunFrom) -> Light {
        if self.has_shadows() && sun == SunFrom::Shade {
            return Self::OpenShade.light(SunFrom::Front);
        }
        let (less, sd_of_direction) = match sun {
            _ if !self.has_shadows() => (0.0, 0.0),
            SunFrom::Front | SunFrom::Shade => (0.0, 0.0),
            SunFrom::Side => (1.0, 0.4),
            SunFrom::Back => (2.0, 0.5),
        };
        Light {
            ev100: Ev100::computed(self.ev100().as_ev() - less),
            sd_stops: self.sd_stops().hypot(sd_of_direction),
            source: SOURCE,
        }
    }
}

impl SunFrom {
    /// Every place of the sun, as a form lists them.
    pub const ALL: [Self; 4] = [Self::Front, Self::Side, Self::Back, Self::Shade];

    /// In words.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Front => "sun behind the camera",
            Self::Side => "sun from the side",
            Self::Back => "sun behind the subject",
            Self::Shade => "subject in open shade",
        }
    }

    /// A short stable name for forms and records.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Front => "front",
            Self::Side => "side",
            Self::Back => "back",
            Self::Shade => "shade",
        }
    }

    /// The place of a [`Self::key`].
    pub fn from_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|sun| sun.key() == key)
    }
}

impl Light {
    /// Light from a meter reading, lux or reflected. A standard deviation of a third of a stop
    /// covers the meter and where it was pointed (our own judgement).
    pub const fn metered(ev100: Ev100) -> Self {
        Self {
            ev100,
            sd_stops: SD_METERED,
            source: "meter reading (ISO 2720); a third of a stop for meter and aim is our own judgement",
        }
    }

    /// Light as an EV at ISO 100 that a meter or a calculation gave, from a plain number.
    ///
    /// # Errors
    /// [`OutOfRange`] outside the range of [`Ev100`].
    pub fn metered_ev(ev100: f64) -> Result<Self, OutOfRange> {
        Ok(Self::metered(Ev100::new(ev100)?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sun_behind_the_subject_costs_two_stops_in_sun_only() {
        assert_eq!(Sky::FullSun.light(SunFrom::Back).ev100.as_ev(), 13.0);
        assert_eq!(Sky::HeavyOvercast.light(SunFrom::Back).ev100.as_ev(), 12.0);
        assert_eq!(Sky::FullSun.light(SunFrom::Shade), Sky::OpenShade.light(SunFrom::Front));
    }

    #[test]
    fn every_key_finds_its_sky_again() {
        for sky in Sky::ALL {
            assert_eq!(Sky::from_key(sky.key()), Some(sky));
        }
        for sun in SunFrom::ALL {
            assert_eq!(SunFrom::from_key(sun.key()), Some(sun));
        }
    }
}
