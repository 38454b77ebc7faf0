//! Reciprocity failure: long exposures need more than their metered time.
//!
//! `Tc = Tm^P` above one second, nothing at or below it: HARMAN / ILFORD, Film reciprocity failure
//! compensation (HP5+ P = 1.31: 10 s becomes 20.4 s). With another threshold t0 the same rule reads
//! `Tc = t0 (Tm / t0)^P`, which joins on without a step. No exponent has been published for paper;
//! it is 1 until the section has fitted one.

use crate::calc::quantity::{ExposureTime, ReciprocityExponent, ReciprocityThreshold, Seconds};
use crate::calc::working::{Working, figures, plain, seconds_text};

/// A reciprocity rule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reciprocity {
    exponent: ReciprocityExponent,
    threshold: ReciprocityThreshold,
}

impl Reciprocity {
    /// No correction at all: exponent 1.
    pub const NONE: Self =
        Self { exponent: ReciprocityExponent::computed(1.0), threshold: ReciprocityThreshold::computed(1.0) };

    /// A rule with an exponent above a threshold.
    pub const fn new(exponent: ReciprocityExponent, threshold: ReciprocityThreshold) -> Self {
        Self { exponent, threshold }
    }

    /// The usual rule: an exponent above one second.
    pub const fn above_one_second(exponent: ReciprocityExponent) -> Self {
        Self::new(exponent, ReciprocityThreshold::computed(1.0))
    }

    /// The exponent.
    pub const fn exponent(self) -> ReciprocityExponent {
        self.exponent
    }

    /// The threshold.
    pub const fn threshold(self) -> ReciprocityThreshold {
        self.threshold
    }

    /// The time to give for a metered time. Never shorter.
    pub fn corrected(self, metered: impl Into<Seconds>) -> Seconds {
        self.bend(metered.into(), self.exponent.as_number())
    }

    /// The inverse: the metered time that a given time amounts to.
    pub fn metered(self, corrected: impl Into<Seconds>) -> Seconds {
        self.bend(corrected.into(), 1.0 / self.exponent.as_number())
    }

    fn bend(self, time: Seconds, power: f64) -> Seconds {
        let threshold = self.threshold.as_s();
        if time.as_s() <= threshold {
            time
        } else {
            Seconds::computed(threshold * (time.as_s() / threshold).powf(power))
        }
    }

    /// The corrected time with its working.
    pub fn working(self, metered: impl Into<Seconds>) -> Working {
        let metered = metered.into();
        let corrected = self.corrected(metered);
        let (threshold, p) = (self.threshold.as_s(), plain(self.exponent.as_number()));
        let formula = if metered.as_s() <= threshold {
            format!("{} s is not above {} s: no correction", figures(metered.as_s(), 3), plain(threshold))
        } else if threshold == 1.0 {
            format!("Tc = Tm^P = {}^{p} = {} s", figures(metered.as_s(), 3), figures(corrected.as_s(), 3))
        } else {
            format!(
                "Tc = t0 (Tm / t0)^P = {t0} × ({} / {t0})^{p} = {} s",
                figures(metered.as_s(), 3),
                figures(corrected.as_s(), 3),
                t0 = plain(threshold)
            )
        };
        Working {
            name: "time with reciprocity",
            value: seconds_text(corrected.as_s()),
            formula,
            source: "HARMAN / ILFORD, Film reciprocity failure compensation: Tc = Tm^P above 1 s; \
                     no exponent is published for paper",
            interval: None,
        }
    }
}

/// One trial: what the meter said, and the time that turned out right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trial {
    /// Metered time.
    pub metered: ExposureTime,
    /// The time that was right.
    pub good: ExposureTime,
}

/// Why no exponent can be fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoFit {
    /// Fewer than two trials.
    #[error("give two or more trials")]
    TooFew,
    /// All metered times are the same.
    #[error("the metered times of the trials must differ")]
    NoSpread,
}

/// Exponent fitted to two or more trials: the slope of log good time against log metered time
/// (with two trials `ln(c2/c1) / ln(m2/m1)`). Not forced into the range of
/// [`ReciprocityExponent`].
///
/// # Errors
/// [`NoFit`] with fewer than two trials or without spread in the metered times.
pub fn reciprocity_fit(trials: &[Trial]) -> Result<f64, NoFit> {
    if trials.len() < 2 {
        return Err(NoFit::TooFew);
    }
    let n = trials.len() as f64;
    let logs: Vec<_> = trials.iter().map(|t| (t.metered.as_s().ln(), t.good.as_s().ln())).collect();
    let (x_mean, y_mean) = logs.iter().fold((0.0, 0.0), |(x, y), l| (x + l.0 / n, y + l.1 / n));
    let (sxx, sxy) =
        logs.iter().fold((0.0, 0.0), |(xx, xy), (x, y)| (xx + (x - x_mean).powi(2), xy + (x - x_mean) * (y - y_mean)));
    if sxx < 1e-12 {
        return Err(NoFit::NoSpread);
    }
    Ok(sxy / sxx)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rule(p: f64, t0: f64) -> Reciprocity {
        Reciprocity::new(ReciprocityExponent::new(p).unwrap(), ReciprocityThreshold::new(t0).unwrap())
    }

    #[test]
    fn trials_with_one_metered_time_cannot_be_fitted() {
        let trial = Trial { metered: ExposureTime::new(10.0).unwrap(), good: ExposureTime::new(20.0).unwrap() };
        assert_eq!(reciprocity_fit(&[trial]), Err(NoFit::TooFew));
        assert_eq!(reciprocity_fit(&[trial, trial]), Err(NoFit::NoSpread));
    }

    proptest! {
        #[test]
        fn correction_there_and_back_and_never_shorter(
            t in 0.0001..1e6f64, p in 1.0..=2.0f64, t0 in 0.01..1000.0f64,
        ) {
            let rule = rule(p, t0);
            let metered = ExposureTime::new(t).unwrap();
            let corrected = rule.corrected(metered);
            prop_assert!(corrected.as_s() >= t * (1.0 - 1e-12), "{corrected:?}");
            prop_assert!((rule.metered(corrected).as_s() / t - 1.0).abs() < 1e-9);
            let longer = rule.corrected(Seconds::computed(t * 1.01));
            prop_assert!(longer.as_s() > corrected.as_s());
        }
    }
}
