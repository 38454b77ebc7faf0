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
/// 100:2008, 4.2.3 and 5.1.2).
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

    /// The ovalness with its working.
    pub fn ovalness_working(self, readings: &[HoleDiameter]) -> Working {
        let mm = |pick: fn(f64, f64) -> f64| readings.iter().map(|r| r.as_mm()).reduce(pick).unwrap_or(0.0);
        let percent = self.ovalness * 100.0;
        let percent = if percent == 0.0 { "0".to_owned() } else { figures(percent, 2) };
        Working {
            name: "ovalness",
            value: format!("{percent} %"),
            formula: format!(
                "(greatest − least reading) / mean = ({} − {}) / {} = {percent} %",
                plain(mm(f64::max)),
                plain(mm(f64::min)),
                figures(self.diameter.as_mm(), 3)
            ),
            source: "definition; for an ellipse it is the difference of its axes over their mean",
            interval: None,
        }
    }

    /// The uncertainty of the mean with its working.
    pub fn uncertainty_working(self, readings: &[HoleDiameter], instrument: InstrumentUncertainty) -> Working {
        let n = readings.len() as f64;
        let mean = self.diameter.as_mm();
        let variance = readings.iter().map(|r| (r.as_mm() - mean).powi(2)).sum::<f64>() / (n - 1.0);
        Working {
            name: "uncertainty of the diameter",
            value: format!("± {} mm", figures(self.uncertainty_mm, 2)),
            formula: format!(
                "√(s² / n + u²) with the readings’ scatter s = {} mm, n = {} and the instrument’s u = {} mm: {} mm",
                figures(variance.sqrt(), 2),
                readings.len(),
                plain(instrument.as_mm()),
                figures(self.uncertainty_mm, 2)
            ),
            source: "Guide to the expression of uncertainty in measurement, JCGM 100:2008, 4.2.3 and 5.1.2",
            interval: None,
        }
    }

    /// What that does to the f-number, with its working.
    pub fn f_number_uncertainty_working(self, hole_to_film: HoleToFilm) -> Working {
        let (v, d, u) = (hole_to_film.as_mm(), self.diameter.as_mm(), self.uncertainty_mm);
        let (n, wrong_by) = (v / d, self.f_number_uncertainty(hole_to_film));
        Working {
            name: "f-number",
            value: format!("f/{}", figures(n, 3)),
            formula: format!(
                "N = v / d = {} mm / {} mm = {}; u(N) = N u(d) / d = {} × {} / {} = {}",
                plain(v),
                plain(d),
                figures(n, 3),
                figures(n, 3),
                figures(u, 2),
                plain(d),
                figures(wrong_by, 2)
            ),
            source: "definition of the f-number of a hole without a lens; propagation of uncertainty, JCGM 100:2008, 5.1.2",
            interval: Some(format!("from f/{} to f/{}", figures(n - wrong_by, 3), figures(n + wrong_by, 3))),
        }
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
