//! By how many stops a negative was given too much or too little.
//!
//! Right is where the median of the picture lies at the middle of the paper's range (our own definition): half of the
//! picture is then on each side of it, with equal stops left to black and to clear. The median, because pixels beyond
//! either end keep their rank.

use crate::calc::imaging::curve::{AT_S, AT_T, PaperCurve};

/// How well a curve is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// Read from a step strip of the same paper, or given.
    Given,
    /// The usual paper is taken.
    Assumed,
}

impl Known {
    /// Relative uncertainty of the log exposure range (assumed, no source).
    const fn of_range(self) -> f64 {
        match self {
            Self::Given => 0.05,
            Self::Assumed => 0.2,
        }
    }

    /// Relative uncertainty of the greatest density (assumed, no source).
    const fn of_d_max(self) -> f64 {
        match self {
            Self::Given => 0.02,
            Self::Assumed => 0.08,
        }
    }
}

/// Uncertainty of a net density from a scan: base, flare and noise (assumed, no source).
const OF_DENSITY: f64 = 0.02;
/// What is always left over, in stops (assumed, no source).
const LEFT_OVER: f64 = 0.05;

/// The exposure that a negative was given, against the right one, in stops: minus is too pale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ExposureError {
    /// A value with its standard deviation.
    Value {
        /// `log2(given / right)`.
        stops: f64,
        /// One standard deviation.
        uncertainty: f64,
    },
    /// More than half of the picture is at the base.
    AtMost(f64),
    /// More than half of the picture is at the paper's greatest density.
    AtLeast(f64),
}

/// The exposure error from the median net density of a picture.
///
/// `u^2 = (e u_R/R)^2 + (u_d / (dd/de))^2 + (m u_Dn/Dn / (dd/de))^2 + 0.05^2`.
pub fn exposure_error(median: f64, curve: &PaperCurve, known: Known) -> ExposureError {
    if median < AT_S {
        return ExposureError::AtMost(-curve.half_range_stops());
    }
    if median > AT_T * curve.d_max() {
        return ExposureError::AtLeast(curve.half_range_stops());
    }
    let stops = curve.stops(median);
    let slope = curve.density_per_stop(median);
    let parts = [stops * known.of_range(), OF_DENSITY / slope, median * known.of_d_max() / slope, LEFT_OVER];
    ExposureError::Value { stops, uncertainty: parts.iter().map(|part| part * part).sum::<f64>().sqrt() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_middle_of_the_range_is_right() {
        let curve = PaperCurve::default();
        match exposure_error(curve.density(0.0), &curve, Known::Given) {
            ExposureError::Value { stops, uncertainty } => {
                assert!(stops.abs() < 1e-9);
                assert!((0.05..0.1).contains(&uncertainty), "{uncertainty}");
            }
            bound => panic!("{bound:?}"),
        }
        assert_eq!(exposure_error(0.01, &curve, Known::Given), ExposureError::AtMost(-curve.half_range_stops()));
        assert_eq!(exposure_error(1.9, &curve, Known::Given), ExposureError::AtLeast(curve.half_range_stops()));
    }

    proptest! {
        #[test]
        fn darker_is_never_less_exposed_and_an_assumed_curve_never_surer(a in 0.0..2.2f64, b in 0.0..2.2f64) {
            let curve = PaperCurve::default();
            let stops = |m: f64| match exposure_error(m, &curve, Known::Given) {
                ExposureError::Value { stops, .. } => stops,
                ExposureError::AtMost(stops) | ExposureError::AtLeast(stops) => stops,
            };
            prop_assert!(stops(a.min(b)) <= stops(a.max(b)) + 1e-12);
            let wide = |known| match exposure_error(a, &curve, known) {
                ExposureError::Value { uncertainty, .. } => uncertainty,
                _ => 0.0,
            };
            prop_assert!(wide(Known::Given) <= wide(Known::Assumed));
        }
    }
}
