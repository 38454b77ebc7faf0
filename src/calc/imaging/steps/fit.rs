//! The curve through the patches of a strip.

use crate::calc::imaging::curve::{AT_S, AT_T, STOP, logit};

use super::patches::Patch;

/// The curve `d = Dn / (1 + exp(-k (x - x0)))` through the patches, x the log exposure from the first.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CurveFit {
    /// Greatest net density.
    pub d_max: f64,
    /// Steepness per unit of log exposure.
    pub steepness: f64,
    /// Log exposure of half the greatest density.
    pub half: f64,
    /// How far the patches are from the curve, root mean square, in density.
    pub rms: f64,
    /// Variances and covariances of the three, in their order.
    covariance: [[f64; 3]; 3],
}

/// Rounds of the fit; it settles within ten.
const ROUNDS: usize = 60;

/// Least squares by damped steps (Levenberg, 1944, and Marquardt, 1963, from memory). `None` for fewer than four patches
/// or when no curve rises through them.
pub fn fit(patches: &[Patch]) -> Option<CurveFit> {
    if patches.len() < 4 {
        return None;
    }
    let points: Vec<(f64, f64, f64)> =
        patches.iter().map(|patch| (patch.stops * STOP, patch.density, 1.0 / patch.uncertainty.powi(2))).collect();
    let darkest = points.iter().map(|point| point.1).fold(0.0, f64::max);
    if darkest < 0.1 {
        return None;
    }
    let start = points.iter().find(|point| point.1 > darkest / 2.0).map_or(0.0, |point| point.0);
    let mut now = [darkest * 1.02, 5.0, start];
    let mut damping = 1e-2;
    let misses = |at: [f64; 3]| points.iter().map(|(x, d, weight)| weight * (d - value(at, *x)).powi(2)).sum::<f64>();
    let mut worst = misses(now);
    let mut normal = [[0.0; 3]; 3];
    for _ in 0..ROUNDS {
        normal = [[0.0; 3]; 3];
        let mut pull = [0.0; 3];
        for (x, d, weight) in &points {
            let slopes = slopes(now, *x);
            for ((row, pull), slope) in normal.iter_mut().zip(&mut pull).zip(slopes) {
                for (cell, other) in row.iter_mut().zip(slopes) {
                    *cell += weight * slope * other;
                }
                *pull += weight * slope * (d - value(now, *x));
            }
        }
        let mut damped = normal;
        for (i, row) in damped.iter_mut().enumerate() {
            row[i] *= 1.0 + damping;
        }
        let inverse = inverse(damped)?;
        let step: [f64; 3] = std::array::from_fn(|i| (0..3).map(|j| inverse[i][j] * pull[j]).sum());
        let next = [(now[0] + step[0]).clamp(0.05, 4.0), (now[1] + step[1]).clamp(0.5, 40.0), now[2] + step[2]];
        let missed = misses(next);
        if missed <= worst {
            let settled = (worst - missed) < 1e-12 * worst.max(1e-12);
            now = next;
            worst = missed;
            damping = (damping / 5.0).max(1e-9);
            if settled {
                break;
            }
        } else {
            damping = (damping * 5.0).min(1e9);
        }
    }
    let [d_max, steepness, half] = now;
    let squares: f64 = points.iter().map(|(x, d, _)| (d - value(now, *x)).powi(2)).sum();
    // a form that does not quite fit widens what is known from it
    let stretch = (worst / (points.len() as f64 - 3.0).max(1.0)).max(1.0);
    let covariance = inverse(normal)?.map(|row| row.map(|cell| cell * stretch));
    let found = CurveFit { d_max, steepness, half, rms: (squares / points.len() as f64).sqrt(), covariance };
    (d_max.is_finite() && half.is_finite() && d_max > 2.0 * AT_S).then_some(found)
}

fn value([d_max, steepness, half]: [f64; 3], x: f64) -> f64 {
    d_max / (1.0 + (-steepness * (x - half)).exp())
}

fn slopes([d_max, steepness, half]: [f64; 3], x: f64) -> [f64; 3] {
    let share = 1.0 / (1.0 + (-steepness * (x - half)).exp());
    let bend = d_max * share * (1.0 - share);
    [share, bend * (x - half), -bend * steepness]
}

fn inverse(m: [[f64; 3]; 3]) -> Option<[[f64; 3]; 3]> {
    let minor = |i: usize, j: usize| {
        let (a, b, c, d) = ((i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3);
        m[a][c] * m[b][d] - m[a][d] * m[b][c]
    };
    let whole: f64 = (0..3).map(|j| m[0][j] * minor(0, j)).sum();
    (whole.abs() > 1e-300).then(|| std::array::from_fn(|i| std::array::from_fn(|j| minor(j, i) / whole)))
}

impl CurveFit {
    /// Log exposures of S and T (ISO 6846), from the first patch.
    pub fn ends(&self) -> [f64; 2] {
        [AT_S / self.d_max, AT_T].map(|share| self.half + logit(share) / self.steepness)
    }

    /// Log exposure range and its standard deviation.
    pub fn log_exposure_range(&self) -> (f64, f64) {
        self.known(|[s, t]| t - s)
    }

    /// Log exposure of the middle between S and T, with its standard deviation.
    pub fn middle(&self) -> (f64, f64) {
        self.known(|[s, t]| (s + t) / 2.0)
    }

    /// Net density at a log exposure from the first patch.
    pub fn density(&self, x: f64) -> f64 {
        value([self.d_max, self.steepness, self.half], x)
    }

    /// A figure made of S and T and its standard deviation, by how it changes with the three (numerically).
    fn known(&self, figure: impl Fn([f64; 2]) -> f64) -> (f64, f64) {
        let at = |d_max: f64, steepness: f64, half: f64| figure(Self { d_max, steepness, half, ..*self }.ends());
        let (d, k, h) = (self.d_max, self.steepness, self.half);
        let value = at(d, k, h);
        let by = 1e-5;
        let slopes =
            [(at(d + by, k, h) - value) / by, (at(d, k + by, h) - value) / by, (at(d, k, h + by) - value) / by];
        let variance: f64 =
            (0..3).map(|i| (0..3).map(|j| slopes[i] * self.covariance[i][j] * slopes[j]).sum::<f64>()).sum();
        (value, variance.max(0.0).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::imaging::curve::PaperCurve;
    use crate::calc::quantity::{IsoRange, NetMaximumDensity};
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn the_curve_that_made_the_patches_is_found(d_max in 1.3..2.3f64, range in 60.0..180.0f64, first in -4.5..-2.0f64) {
            let paper = PaperCurve::new(NetMaximumDensity::new(d_max).unwrap(), IsoRange::new(range).unwrap());
            let patches: Vec<Patch> = (0..19)
                .map(|step| {
                    let stops = f64::from(step) * 0.5;
                    let density = paper.density(first + stops);
                    Patch { step: step as usize + 1, stops, density, uncertainty: 0.01 + 0.01 * density, centre: [0.0; 2] }
                })
                .collect();
            let found = fit(&patches).unwrap();
            prop_assert!((found.d_max - d_max).abs() < 1e-4, "{found:?}");
            prop_assert!((found.log_exposure_range().0 - range / 100.0).abs() < 1e-4, "{found:?}");
            prop_assert!((found.middle().0 + first * STOP).abs() < 1e-4, "{found:?}");
            prop_assert!(found.log_exposure_range().1 < 0.1);
        }
    }

    #[test]
    fn a_strip_without_an_image_has_no_curve() {
        let flat = |density| Patch { step: 1, stops: 0.0, density, uncertainty: 0.01, centre: [0.0; 2] };
        assert!(fit(&[flat(0.0), flat(0.01), flat(0.0), flat(0.02)]).is_none());
        assert!(fit(&[flat(0.0), flat(1.0)]).is_none());
    }
}
