//! The linear model inside [`experience`](super::experience): paper + session + camera, with normal
//! priors and weighted observations, in closed form.
//!
//! Each observation touches one camera, so the cameras' part of the precision matrix is diagonal and
//! is eliminated (Schur complement): what has to be inverted is no larger than the paper and the
//! sessions. Where there are more sessions than cameras the two change places.
//!
//! One more unknown may be fitted beside the offsets: a slope that multiplies a number given with
//! each observation. It serves the reciprocity exponent.

use super::experience::Spread;

/// One observation.
#[derive(Clone, Debug)]
pub struct Row {
    pub session: usize,
    pub camera: usize,
    pub stops: f64,
    /// Squared scale of its noise.
    pub scale2: f64,
    /// What the slope is multiplied by in this observation; 0 where it plays no part.
    pub lever: f64,
}

/// What is known before any observation.
pub struct Prior {
    pub sessions: usize,
    pub cameras: usize,
    pub spread: Spread,
    /// Mean and standard deviation of the slope; `None` when none is fitted.
    pub slope: Option<(f64, f64)>,
}

/// Normal posterior of the offsets, in two groups: the paper (at 0) with the kept ones and the slope
/// (last), and the eliminated ones.
#[derive(Clone, Debug)]
pub struct Posterior {
    sessions_kept: bool,
    kept_mean: Vec<f64>,
    kept_covariance: Vec<Vec<f64>>,
    eliminated: Vec<Eliminated>,
}

/// An eliminated offset: its mean, its variance and its covariances with the kept ones.
#[derive(Clone, Debug)]
struct Eliminated {
    mean: f64,
    variance: f64,
    covariance: Vec<f64>,
}

/// An eliminated offset's line of the precision matrix: the diagonal, the kept ones that it shares
/// observations with, and what its observations pull.
#[derive(Clone)]
struct Line {
    diagonal: f64,
    shared: Vec<(usize, f64)>,
    pull: f64,
}

impl Posterior {
    /// The posterior given a weight for each observation.
    pub fn of(prior: &Prior, rows: &[Row], weights: &[f64]) -> Self {
        let Spread { paper, session, camera, .. } = prior.spread;
        let sessions_kept = prior.sessions <= prior.cameras;
        let (kept, kept_sd, others, other_sd) = if sessions_kept {
            (prior.sessions, session, prior.cameras, camera)
        } else {
            (prior.cameras, camera, prior.sessions, session)
        };
        let slope_at = 1 + kept;
        // without a slope its line stands alone and plays no part
        let (slope_mean, slope_sd) = prior.slope.unwrap_or((0.0, 1.0));
        let mut precision = vec![vec![0.0; 2 + kept]; 2 + kept];
        for (i, line) in precision.iter_mut().enumerate() {
            line[i] = match i {
                0 => paper.powi(-2),
                i if i == slope_at => slope_sd.powi(-2),
                _ => kept_sd.powi(-2),
            };
        }
        let mut pull = vec![0.0; 2 + kept];
        pull[slope_at] = slope_mean / slope_sd.powi(2);
        let mut lines = vec![Line { diagonal: other_sd.powi(-2), shared: Vec::new(), pull: 0.0 }; others];
        for (row, weight) in rows.iter().zip(weights) {
            let w = weight / row.scale2;
            let (k, o) = order(sessions_kept, row.session, row.camera);
            let lever = if prior.slope.is_some() { row.lever } else { 0.0 };
            let touched = [(0, 1.0), (1 + k, 1.0), (slope_at, lever)];
            for (i, a) in touched.into_iter().filter(|(_, a)| *a != 0.0) {
                pull[i] += w * a * row.stops;
                for (j, b) in touched {
                    precision[i][j] += w * a * b;
                }
                lines[o].share(i, w * a);
            }
            lines[o].diagonal += w;
            lines[o].pull += w * row.stops;
        }
        for line in &lines {
            for &(i, a) in &line.shared {
                pull[i] -= a * line.pull / line.diagonal;
                for &(j, b) in &line.shared {
                    precision[i][j] -= a * b / line.diagonal;
                }
            }
        }
        let kept_covariance = inverse(precision);
        let kept_mean: Vec<f64> = kept_covariance.iter().map(|line| dot(line, &pull)).collect();
        let eliminated = lines.iter().map(|line| line.given(&kept_mean, &kept_covariance)).collect();
        Self { sessions_kept, kept_mean, kept_covariance, eliminated }
    }

    /// Mean and variance of paper + session + camera + lever × slope.
    pub fn sum_of(&self, session: usize, camera: usize, lever: f64) -> (f64, f64) {
        let (k, o) = order(self.sessions_kept, session, camera);
        let slope_at = self.kept_mean.len() - 1;
        let (other, terms) = (&self.eliminated[o], [(0, 1.0), (1 + k, 1.0), (slope_at, lever)]);
        let mean = terms.iter().map(|&(i, a)| a * self.kept_mean[i]).sum::<f64>() + other.mean;
        let kept: f64 = terms.iter().flat_map(|&(i, a)| terms.map(|(j, b)| a * b * self.kept_covariance[i][j])).sum();
        let shared: f64 = terms.iter().map(|&(i, a)| a * other.covariance[i]).sum();
        (mean, kept + 2.0 * shared + other.variance)
    }

    /// Mean and variance of the slope.
    pub fn slope(&self) -> (f64, f64) {
        let at = self.kept_mean.len() - 1;
        (self.kept_mean[at], self.kept_covariance[at][at])
    }

    /// Covariance of the slope with paper + session + camera.
    pub fn slope_with(&self, session: usize, camera: usize) -> f64 {
        let (k, o) = order(self.sessions_kept, session, camera);
        let at = self.kept_mean.len() - 1;
        self.kept_covariance[at][0] + self.kept_covariance[at][1 + k] + self.eliminated[o].covariance[at]
    }
}

impl Line {
    fn share(&mut self, kept: usize, weight: f64) {
        match self.shared.iter_mut().find(|(i, _)| *i == kept) {
            Some((_, sum)) => *sum += weight,
            None => self.shared.push((kept, weight)),
        }
    }

    /// The eliminated offset once the kept ones are known.
    fn given(&self, mean: &[f64], covariance: &[Vec<f64>]) -> Eliminated {
        let shared_with = |line: &[f64]| self.shared.iter().map(|&(j, a)| line[j] * a).sum::<f64>() / self.diagonal;
        let with_kept: Vec<f64> = covariance.iter().map(|line| -shared_with(line)).collect();
        Eliminated {
            mean: self.pull / self.diagonal - shared_with(mean),
            variance: 1.0 / self.diagonal - shared_with(&with_kept),
            covariance: with_kept,
        }
    }
}

/// (kept, eliminated).
const fn order(sessions_kept: bool, session: usize, camera: usize) -> (usize, usize) {
    if sessions_kept { (session, camera) } else { (camera, session) }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Inverse of a symmetric positive definite matrix by Gauss-Jordan elimination; the prior on the
/// diagonal keeps every pivot positive.
fn inverse(mut a: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let n = a.len();
    let mut inv: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
    for i in 0..n {
        let pivot = a[i][i];
        for j in 0..n {
            a[i][j] /= pivot;
            inv[i][j] /= pivot;
        }
        let (a_row, inv_row) = (a[i].clone(), inv[i].clone());
        for k in (0..n).filter(|&k| k != i) {
            let factor = a[k][i];
            if factor != 0.0 {
                for j in 0..n {
                    a[k][j] -= factor * a_row[j];
                    inv[k][j] -= factor * inv_row[j];
                }
            }
        }
    }
    inv
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The same without elimination: the whole matrix at once.
    fn whole(prior: &Prior, rows: &[Row], weights: &[f64], asked: (usize, usize, f64)) -> (f64, f64) {
        let slope_at = 1 + prior.sessions + prior.cameras;
        let at =
            |s: usize, c: usize, lever: f64| [(0, 1.0), (1 + s, 1.0), (1 + prior.sessions + c, 1.0), (slope_at, lever)];
        let size = slope_at + 1;
        let mut precision = vec![vec![0.0; size]; size];
        let mut pull = vec![0.0; size];
        let (slope_mean, slope_sd) = prior.slope.expect("a slope");
        pull[slope_at] = slope_mean / slope_sd.powi(2);
        for (i, line) in precision.iter_mut().enumerate() {
            let sd = match i {
                0 => prior.spread.paper,
                i if i <= prior.sessions => prior.spread.session,
                i if i == slope_at => slope_sd,
                _ => prior.spread.camera,
            };
            line[i] = sd.powi(-2);
        }
        for (row, weight) in rows.iter().zip(weights) {
            let touched = at(row.session, row.camera, row.lever);
            for (i, a) in touched {
                pull[i] += weight / row.scale2 * a * row.stops;
                for (j, b) in touched {
                    precision[i][j] += weight / row.scale2 * a * b;
                }
            }
        }
        let covariance = inverse(precision);
        let terms = at(asked.0, asked.1, asked.2);
        let mean = terms.iter().map(|&(i, a)| a * dot(&covariance[i], &pull)).sum();
        let pairs = terms.iter().flat_map(|&x| terms.map(|y| (x, y)));
        (mean, pairs.map(|((i, a), (j, b))| a * b * covariance[i][j]).sum())
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(100))]
        #[test]
        fn elimination_changes_nothing(
            sheets in proptest::collection::vec((0..4usize, 0..6usize, -4.0..4.0f64, 0.05..1.25f64, 0.0..6.0f64), 0..25),
            swapped in any::<bool>(), session in 0..4usize, camera in 0..6usize, lever in 0.0..6.0f64,
        ) {
            let turn = |s, c| if swapped { (c, s) } else { (s, c) };
            let (sessions, cameras) = turn(4, 6);
            let prior = Prior { sessions, cameras, spread: Spread::default(), slope: Some((0.1, 0.2)) };
            let rows: Vec<_> = sheets.iter().map(|&(s, c, stops, _, lever)| {
                let (session, camera) = turn(s, c);
                Row { session, camera, stops, scale2: 0.36, lever }
            }).collect();
            let weights: Vec<_> = sheets.iter().map(|sheet| sheet.3).collect();
            let (session, camera) = turn(session, camera);
            let (mean, variance) = Posterior::of(&prior, &rows, &weights).sum_of(session, camera, lever);
            let (mean_whole, variance_whole) = whole(&prior, &rows, &weights, (session, camera, lever));
            prop_assert!((mean - mean_whole).abs() < 1e-11, "{mean} {mean_whole}");
            prop_assert!((variance - variance_whole).abs() < 1e-11, "{variance} {variance_whole}");
        }
    }
}
