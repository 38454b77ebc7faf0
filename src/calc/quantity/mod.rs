//! Quantities: numbers with a unit and a range that is written down once.
//!
//! Each type below names itself, its unit, its least and its greatest value in one line. That
//! line feeds the constructor, the message a person reads, the `min` and `max` of a form field,
//! the table printed by `shimlight calc --list` and the property tests.

mod darkroom;
mod lengths;
mod light;
mod scans;

use std::fmt;

pub use darkroom::{
    Capacity, CarryOver, Celsius, DissolvedShare, GramsPerLitre, GramsPerSquareMetre, Litres, MilligramsPerLitre,
    Millilitres, Percent, SquareMetres, TemperatureFactor,
};
pub use lengths::{
    FieldAngle, FilmSide, FocalLength, HoleConstant, HoleDiameter, HoleToFilm, InsideDiameter, InstrumentUncertainty,
    PlateThickness, PointDiameter, ShaftDiameter, SubjectDistance, TaperLength, Wavelength,
};
pub use light::{
    DaylightFactor, Ev100, ExposureIndex, ExposureTime, FNumber, Illuminance, IsoPaperSpeed, Luminance, MeterConstantC,
    MeterConstantK, PaperLogExposure, ReciprocityExponent, ReciprocityThreshold, Reflectance, ResultStops, Seconds,
};
pub use scans::{BaseReflectance, Flare, IsoRange, NetMaximumDensity, ScanGamma, ScanResolution, StopsPerStep};

/// A number with a name, a unit and a range.
///
/// ```
/// use shimlight::calc::quantity::{Bounded, HoleDiameter};
/// assert_eq!(HoleDiameter::new(0.35).unwrap().as_mm(), 0.35);
/// assert_eq!(
///     HoleDiameter::new(70.0).unwrap_err().to_string(),
///     "hole diameter must be from 0.01 to 20 mm"
/// );
/// assert_eq!(<HoleDiameter as Bounded>::MAX, 20.0);
/// ```
pub trait Bounded: Copy {
    /// What a person calls it, as it stands in a message: "hole diameter".
    const NAME: &'static str;
    /// The unit of the number inside, empty for a pure number.
    const UNIT: &'static str;
    /// The least value that is accepted.
    const MIN: f64;
    /// The greatest value that is accepted.
    const MAX: f64;

    /// Accepts a finite number within the range.
    ///
    /// # Errors
    /// [`OutOfRange`] below [`Self::MIN`], above [`Self::MAX`], or when not finite.
    fn bounded(value: f64) -> Result<Self, OutOfRange>;

    /// The number, in [`Self::UNIT`].
    fn number(self) -> f64;
}

/// A number outside the range its quantity declares. Displays as a sentence without a full stop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutOfRange {
    /// Name of the quantity.
    pub name: &'static str,
    /// Unit of `min` and `max`.
    pub unit: &'static str,
    /// Least accepted value.
    pub min: f64,
    /// Greatest accepted value.
    pub max: f64,
}

impl OutOfRange {
    /// The same refusal for a person who types in another unit: `per` is how much of the
    /// quantity's own unit one of the other is (25.4 for inches of a length in mm).
    pub fn in_unit(self, per: f64, unit: &'static str) -> Self {
        let round_in = |x: f64, up: bool| {
            let step = 10f64.powf(x.abs().max(1e-12).log10().floor() - 2.0);
            let steps = x / step;
            // Rounded inwards, so that the numbers in the message are themselves accepted.
            (if up { (steps - 1e-9).ceil() } else { (steps + 1e-9).floor() }) * step
        };
        Self { name: self.name, unit, min: round_in(self.min / per, true), max: round_in(self.max / per, false) }
    }
}

impl fmt::Display for OutOfRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (min, max) = (range_end(self.min), range_end(self.max));
        write!(f, "{} must be from {min} to {max}", self.name)?;
        if !self.unit.is_empty() {
            write!(f, " {}", self.unit)?;
        }
        Ok(())
    }
}

impl std::error::Error for OutOfRange {}

/// An end of a range as a person reads it: no exponent, no stray binary digits.
pub(crate) fn range_end(x: f64) -> String {
    super::working::plain(x)
}

/// Declares quantities: `Name, "name", "unit", accessor, min, max;`, each with its doc comment.
macro_rules! quantities {
    ($($(#[$doc:meta])* $type:ident, $name:literal, $unit:literal, $out:ident, $min:expr, $max:expr;)+) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
        pub struct $type(f64);

        impl $type {
            #[doc = concat!("Accepts a ", $name, " within its range.")]
            ///
            /// # Errors
            /// `OutOfRange` outside the range or when not finite.
            pub fn new(value: f64) -> Result<Self, $crate::calc::quantity::OutOfRange> {
                if value.is_finite() && (Self::MIN..=Self::MAX).contains(&value) {
                    Ok(Self(value))
                } else {
                    Err(Self::out_of_range())
                }
            }

            #[doc = concat!("The number, in ", $unit, ".")]
            pub const fn $out(self) -> f64 {
                self.0
            }

            /// What a value outside the range is told.
            pub const fn out_of_range() -> $crate::calc::quantity::OutOfRange {
                $crate::calc::quantity::OutOfRange {
                    name: $name,
                    unit: $unit,
                    min: Self::MIN,
                    max: Self::MAX,
                }
            }

            /// Least accepted value.
            pub const MIN: f64 = $min;
            /// Greatest accepted value.
            pub const MAX: f64 = $max;

            /// A value that a formula has produced from values in range. The property tests show
            /// that it stays within the declared range.
            #[allow(dead_code, reason = "not every quantity is the result of a formula")]
            pub(in crate::calc) const fn computed(value: f64) -> Self {
                Self(value)
            }
        }

        impl $crate::calc::quantity::Bounded for $type {
            const NAME: &'static str = $name;
            const UNIT: &'static str = $unit;
            const MIN: f64 = $min;
            const MAX: f64 = $max;

            fn bounded(value: f64) -> Result<Self, $crate::calc::quantity::OutOfRange> {
                Self::new(value)
            }

            fn number(self) -> f64 {
                self.0
            }
        }

        impl TryFrom<f64> for $type {
            type Error = $crate::calc::quantity::OutOfRange;

            fn try_from(value: f64) -> Result<Self, Self::Error> {
                Self::new(value)
            }
        }
    )+};
}
pub(crate) use quantities;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_refusal_says_the_range_and_the_unit() {
        assert_eq!(HoleToFilm::new(4.9).unwrap_err().to_string(), "hole-to-film distance must be from 5 to 5000 mm");
        assert_eq!(ExposureIndex::new(f64::NAN).unwrap_err().to_string(), "exposure index must be from 0.01 to 100000");
    }

    #[test]
    fn both_ends_belong_to_the_range() {
        assert!(HoleDiameter::new(HoleDiameter::MIN).is_ok());
        assert!(HoleDiameter::new(HoleDiameter::MAX).is_ok());
        for bad in [0.0, -1.0, 20.000001, f64::INFINITY, f64::NAN] {
            assert!(HoleDiameter::new(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_refusal_in_inches_names_ends_that_are_accepted() {
        let said = HoleToFilm::out_of_range().in_unit(25.4, "in");
        assert_eq!(said.to_string(), "hole-to-film distance must be from 0.197 to 196 in");
        assert!(HoleToFilm::new(said.min * 25.4).is_ok());
        assert!(HoleToFilm::new(said.max * 25.4).is_ok());
    }
}
