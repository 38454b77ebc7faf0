//! A scale of stops for times: every doubling is as far as the next.

use crate::calc::working::{plain, seconds_text};

/// Round times that are worth a line and a label, in seconds.
const ROUND_S: [f64; 16] =
    [0.125, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 15.0, 30.0, 60.0, 120.0, 240.0, 480.0, 900.0, 1800.0, 3600.0];

/// A stretch of a drawing along which times are laid out in stops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StopsScale {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
}

impl StopsScale {
    /// Holds all of these times, in seconds, with half a stop to spare, from one coordinate to another.
    /// At least three stops long, so that a single time stands in the middle.
    pub fn holding(times_s: impl Iterator<Item = f64>, from: f64, to: f64) -> Self {
        let logs = times_s.filter(|s| s.is_finite() && *s > 0.0).map(f64::log2);
        let (low, high) = logs.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
        let (low, high) = if low > high { (3.0, 6.0) } else { (low - 0.5, high + 0.5) };
        let short = (3.0 - (high - low)).max(0.0) / 2.0;
        Self { low: low - short, high: high + short, from, to }
    }

    /// Where a time stands.
    pub fn at(self, seconds: f64) -> f64 {
        let share = (seconds.max(1e-6).log2() - self.low) / (self.high - self.low);
        self.from + share.clamp(0.0, 1.0) * (self.to - self.from)
    }

    /// How far one stop is.
    pub fn stop(self) -> f64 {
        (self.to - self.from) / (self.high - self.low)
    }

    /// Round times on it with their places; every other one where they would crowd.
    pub fn marks(self) -> Vec<(f64, String)> {
        let inside: Vec<f64> = ROUND_S.into_iter().filter(|s| (self.low..=self.high).contains(&s.log2())).collect();
        let step = if inside.len() > 8 { 2 } else { 1 };
        inside
            .into_iter()
            .step_by(step)
            .map(|s| (self.at(s), if s < 60.0 { format!("{} s", plain(s)) } else { seconds_text(s) }))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_doubling_is_as_far_as_the_next() {
        let scale = StopsScale::holding([4.0, 64.0].into_iter(), 0.0, 100.0);
        let (a, b, c) = (scale.at(8.0), scale.at(16.0), scale.at(32.0));
        assert!((b - a - (c - b)).abs() < 1e-9 && (b - a - scale.stop()).abs() < 1e-9);
        assert!(scale.marks().iter().any(|(_, words)| words == "8 s"));
    }

    #[test]
    fn nothing_and_one_time_have_a_scale_too() {
        assert!(StopsScale::holding(std::iter::empty(), 0.0, 1.0).stop().is_finite());
        let one = StopsScale::holding(std::iter::once(16.0), 0.0, 100.0);
        assert!((one.at(16.0) - 50.0).abs() < 1e-9);
    }
}
