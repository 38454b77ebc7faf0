//! The hole as measured: two or more crossed readings.

use crate::calc::quantity::{HoleDiameter, HoleToFilm, InstrumentUncertainty};
use crate::calc::working::{Working, figures, plain};

/// The outcome of several readings of one hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HoleReadings {
    /// Mean of the readings.
    pub diameter: HoleDiameter,
    /// Greatest less least reading, over the mean: 0 for a round hole.
    pub ovalness: f64,
    /// Standard uncertainty of the mean, in mm.
    pub uncertainty_mm: f64,
}

/// Fewer than two readings were given.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("give two or more readings, crossed")]
pub struct TooFewReadings;

/// Mean, ovalness and uncertainty of two or more readings taken across one another.
///
/// The uncertainty combines the scatter of the mean with that of the instrument, which repeating
/// does not reduce: `sqrt(s²/n + u²)` (Guide to the expression of uncertainty in measurement, JCGM
/// 100:2008, 4.2.3 and 5.1.2; from memory).
///
/// # Errors
/// [`TooFewReadings`] below two.
pub fn hole_readings(
    readings: &[HoleDiameter],
    instrument: InstrumentUncertainty,
) -> Result<HoleReadings, TooFewReadings> {
    if readings.len() < 2 {
        return Err(TooFewReadings);
    }
    let mm = || readings.iter().map(|r| r.as_mm());
    let n = readings.len() as f64;
    let mean = mm().sum::<f64>() / n;
    let variance = mm().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let (least, greatest) = mm().fold((f64::MAX, f64::MIN), |(lo, hi), r| (lo.min(r), hi.max(r)));
    Ok(HoleReadings {
        diameter: HoleDiameter::computed(mean),
        ovalness: (greatest - least) / mean,
        uncertainty_mm: (variance / n + instrument.as_mm().powi(2)).sqrt(),
    })
}

impl HoleReadings {
    /// What the uncertainty of the diameter does to the f-number (one standard deviation).
    pub fn f_number_uncertainty(self, hole_to_film: HoleToFilm) -> f64 {
        hole_to_film.as_mm() / self.diameter.as_mm() * self.uncertainty_mm / self.diameter.as_mm()
    }

    /// What it does to the exposure time, in stops: time goes with the square of the f-number.
    pub fn sd_stops(self) -> f64 {
        2.0 * (self.uncertainty_mm / self.diameter.as_mm()).ln_1p() / std::f64::consts::LN_2
    }

    /// The mean with its working.
    pub fn working(self, readings: &[HoleDiameter]) -> Working {
        let list: Vec<_> = readings.iter().map(|r| plain(r.as_mm())).collect();
        Working {
            name: "hole as measured",
            value: format!("{} mm", figures(self.diameter.as_mm(), 3)),
            formula: format!(
                "({}) / {} = {} mm; ovalness {} %",
                list.join(" + "),
                readings.len(),
                figures(self.diameter.as_mm(), 3),
                figures(self.ovalness * 100.0, 2)
            ),
            source: "mean of crossed readings",
            interval: Some(format!(
                "± {} mm, which is ± {} stops of exposure",
                figures(self.uncertainty_mm, 2),
                figures(self.sd_stops(), 2)
            )),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(mm: &[f64]) -> Vec<HoleDiameter> {
        mm.iter().map(|&r| HoleDiameter::new(r).unwrap()).collect()
    }

    #[test]
    fn two_crossed_readings_give_mean_ovalness_and_uncertainty() {
        let measured = hole_readings(&readings(&[0.46, 0.50]), InstrumentUncertainty::new(0.01).unwrap()).unwrap();
        assert!((measured.diameter.as_mm() - 0.48).abs() < 1e-12);
        assert!((measured.ovalness - 0.04 / 0.48).abs() < 1e-12);
        // s = 0.04/sqrt(2), s²/2 = 0.0004; with 0.0001 of the instrument: sqrt(0.0005).
        assert!((measured.uncertainty_mm - 0.0005f64.sqrt()).abs() < 1e-12);
        assert!((measured.sd_stops() - 0.131).abs() < 0.001, "{}", measured.sd_stops());
    }

    #[test]
    fn one_reading_is_not_enough() {
        let one = hole_readings(&readings(&[0.5]), InstrumentUncertainty::new(0.01).unwrap());
        assert_eq!(one, Err(TooFewReadings));
    }
}
