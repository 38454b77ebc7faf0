//! The characteristic curve of a paper, as one explicit form.
//!
//! `d(x) = Dn / (1 + exp(-(c + k x)))` with x the log exposure from the middle of the range (our own form). S is
//! where the density is 0.04 over base and fog, T where it is 90 % of the greatest; the log exposure range lies between
//! them and the ISO range is a hundred times that, to the nearest ten (ISO 6846:1992, second hand; that T is taken of
//! the net maximum is from memory).

use crate::calc::quantity::{IsoRange, NetMaximumDensity};

/// Density over base and fog at S (ISO 6846).
pub const AT_S: f64 = 0.04;
/// Share of the greatest density at T (ISO 6846).
pub const AT_T: f64 = 0.9;
/// Log exposure of one stop, `log10 2`.
pub const STOP: f64 = std::f64::consts::LOG10_2;

/// A paper's curve about the middle of its exposure range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PaperCurve {
    d_max: NetMaximumDensity,
    range: IsoRange,
}

impl Default for PaperCurve {
    /// A glossy paper of medium contrast: 1.9 and 110 (common practice, no source).
    fn default() -> Self {
        Self { d_max: NetMaximumDensity::computed(1.9), range: IsoRange::computed(110.0) }
    }
}

/// `ln(f / (1 - f))`.
pub(super) fn logit(share: f64) -> f64 {
    (share / (1.0 - share)).ln()
}

impl PaperCurve {
    /// The curve of a paper with this greatest net density and this ISO range.
    pub fn new(d_max: NetMaximumDensity, range: IsoRange) -> Self {
        Self { d_max, range }
    }

    /// Greatest density over the base.
    pub fn d_max(&self) -> f64 {
        self.d_max.as_density()
    }

    /// The ISO range.
    pub fn iso_range(&self) -> f64 {
        self.range.as_range()
    }

    /// Log exposure from S to T.
    pub fn log_exposure_range(&self) -> f64 {
        self.iso_range() / 100.0
    }

    /// Stops from the middle of the range to S or to T.
    pub fn half_range_stops(&self) -> f64 {
        self.log_exposure_range() / 2.0 / STOP
    }

    /// `k = [L(0.9) - L(0.04 / Dn)] / LER`, per unit of log exposure.
    fn steepness(&self) -> f64 {
        (logit(AT_T) - logit(AT_S / self.d_max())) / self.log_exposure_range()
    }

    /// `c = [L(0.9) + L(0.04 / Dn)] / 2`.
    fn middle(&self) -> f64 {
        (logit(AT_T) + logit(AT_S / self.d_max())) / 2.0
    }

    /// Net density at so many stops from the middle of the range.
    pub fn density(&self, stops: f64) -> f64 {
        self.d_max() / (1.0 + (-(self.middle() + self.steepness() * stops * STOP)).exp())
    }

    /// Stops from the middle of the range at a net density; minus or plus infinity where the curve is never so
    /// pale or so dark.
    pub fn stops(&self, density: f64) -> f64 {
        let share = (density / self.d_max()).clamp(0.0, 1.0);
        (logit(share) - self.middle()) / self.steepness() / STOP
    }

    /// How much the density grows with a stop at a net density.
    pub fn density_per_stop(&self, density: f64) -> f64 {
        let share = (density / self.d_max()).clamp(0.0, 1.0);
        self.d_max() * self.steepness() * share * (1.0 - share) * STOP
    }

    /// How light the print is where the negative has this net density: 0 for black at S, 1 for white at T, even in
    /// log exposure between them (common practice, no source).
    pub fn tone(&self, density: f64) -> f64 {
        (0.5 + self.stops(density) / (2.0 * self.half_range_stops())).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn curve(d_max: f64, range: f64) -> PaperCurve {
        PaperCurve::new(NetMaximumDensity::new(d_max).unwrap(), IsoRange::new(range).unwrap())
    }

    #[test]
    fn the_points_of_the_standard_are_half_the_range_from_the_middle() {
        let paper = PaperCurve::default();
        let half = paper.half_range_stops();
        assert!((half - 1.827).abs() < 5e-4);
        assert!((paper.density(-half) - 0.04).abs() < 1e-9);
        assert!((paper.density(half) - 1.71).abs() < 1e-9);
        // worked out from the form: 0.581 in the middle, 0.67 per stop there
        assert!((paper.density(0.0) - 0.581).abs() < 5e-4);
        assert!((paper.density_per_stop(paper.density(0.0)) - 0.67).abs() < 5e-3);
    }

    #[test]
    fn with_a_density_of_two_the_middle_is_the_speed_point() {
        // ISO 6846: the speed point is 0.60 over base and fog (from memory)
        for range in [90.0, 110.0, 170.0] {
            assert!((curve(2.0, range).density(0.0) - 0.6).abs() < 1e-9);
        }
        assert!((curve(1.4, 110.0).stops(0.6) - 0.24).abs() < 0.01);
        assert!((curve(2.1, 110.0).stops(0.6) + 0.03).abs() < 0.01);
    }

    proptest! {
        #[test]
        fn density_grows_with_exposure_and_leads_back(d_max in 0.5..2.6, range in 40.0..220.0, a in -4.0..4.0f64, b in -4.0..4.0f64) {
            let paper = curve(d_max, range);
            let (low, high) = (a.min(b), a.max(b));
            prop_assert!(paper.density(low) <= paper.density(high));
            prop_assert!(paper.tone(paper.density(low)) <= paper.tone(paper.density(high)));
            prop_assert!((0.0..=1.0).contains(&paper.tone(paper.density(a))));
            let half = paper.half_range_stops();
            let within = a.clamp(-half, half);
            prop_assert!((paper.stops(paper.density(within)) - within).abs() < 1e-6);
        }

        #[test]
        fn the_slope_is_that_of_the_curve(d_max in 0.5..2.6, range in 40.0..220.0, stops in -2.0..2.0f64) {
            let paper = curve(d_max, range);
            let slope = (paper.density(stops + 1e-5) - paper.density(stops - 1e-5)) / 2e-5;
            prop_assert!((paper.density_per_stop(paper.density(stops)) - slope).abs() < 1e-4 * d_max);
        }
    }
}
