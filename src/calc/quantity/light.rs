//! Quantities of light, exposure and photographic speed.

super::quantities! {
    /// f-number: hole-to-film distance over hole diameter.
    FNumber, "f-number", "", as_number, 0.25, 500_000.0;
    /// Exposure index: the speed at which a paper or film is used, on the ISO scale.
    ExposureIndex, "exposure index", "", as_number, 0.01, 100_000.0;
    /// The light on a subject as an exposure value at ISO 100.
    Ev100, "exposure value at ISO 100", "EV", as_ev, -10.0, 25.0;
    /// A time as typed by a person: how long a shutter was or is to be open.
    ExposureTime, "exposure time", "s", as_s, 0.0001, 1_000_000.0;
    /// How many stops more a sheet would have needed: too pale is positive, too dark negative.
    ResultStops, "result", "stops", as_stops, -10.0, 10.0;
    /// The reciprocity exponent p, in `t′ = t₀ (t / t₀)^p` above the threshold t₀.
    ReciprocityExponent, "reciprocity exponent", "", as_number, 1.0, 2.0;
    /// Time up to which no reciprocity correction is made.
    ReciprocityThreshold, "reciprocity threshold", "s", as_s, 0.01, 1000.0;
    /// Illuminance, as a lux meter reads it.
    Illuminance, "illuminance", "lx", as_lx, 0.01, 1_000_000.0;
    /// Luminance, as a reflected-light reading measures it.
    Luminance, "luminance", "cd/m²", as_cd_m2, 0.001, 1_000_000.0;
    /// Calibration constant of a reflected-light meter (ISO 2720).
    MeterConstantK, "meter constant K", "", as_number, 5.0, 30.0;
    /// Calibration constant of an incident-light meter (ISO 2720).
    MeterConstantC, "meter constant C", "", as_number, 100.0, 1000.0;
    /// Share of the light that a matte subject sends back.
    Reflectance, "reflectance", "", as_share, 0.01, 1.0;
    /// Speed of a photographic paper, ISO 6846 (the number after the P).
    IsoPaperSpeed, "ISO paper speed", "", as_number, 1.0, 10_000.0;
    /// How much faster a paper is by daylight than by the tungsten light its speed is measured in.
    DaylightFactor, "daylight factor", "", as_number, 0.1, 20.0;
    /// Common logarithm of an exposure in lux seconds, as read off a paper's curve.
    PaperLogExposure, "log exposure", "", as_number, -6.0, 6.0;
}

/// A time in seconds that a formula has produced: positive and finite, otherwise without bounds.
///
/// What a person may type is an [`ExposureTime`]; it turns into this without loss.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Seconds(f64);

impl Seconds {
    /// The number of seconds.
    pub const fn as_s(self) -> f64 {
        self.0
    }

    /// From whole milliseconds, as records keep it; one at least.
    pub fn from_millis(millis: i64) -> Self {
        Self(millis.max(1) as f64 / 1000.0)
    }

    /// In whole milliseconds, one at least. A time beyond what an integer holds saturates.
    pub fn as_millis(self) -> i64 {
        ((self.0 * 1000.0).round() as i64).max(1)
    }

    /// This time made longer by so many stops (shorter when negative).
    pub fn with_stops(self, stops: f64) -> Self {
        Self(self.0 * stops.exp2())
    }

    /// How many stops longer this time is than the other.
    pub fn stops_over(self, other: Self) -> f64 {
        (self.0 / other.0).log2()
    }

    pub(in crate::calc) const fn computed(value: f64) -> Self {
        Self(value)
    }
}

impl From<ExposureTime> for Seconds {
    fn from(time: ExposureTime) -> Self {
        Self(time.as_s())
    }
}
