//! The fit inside [`experience`](super::experience) and [`taught`](super::taught): which session and
//! camera each sheet belongs to, and the weights that keep a wild sheet from moving the class.

use super::experience::{Judged, Spread};
use super::offsets::{Posterior, Prior, Row};

/// Sessions and cameras with their numbers, and the fit of the offsets.
#[derive(Clone, Debug)]
pub(super) struct Fit<S, C> {
    /// Those seen; number 0 is any that was not.
    sessions: Vec<S>,
    cameras: Vec<C>,
    spread: Spread,
    pub(super) rows: Vec<Row>,
    pub(super) weights: Vec<f64>,
    pub(super) posterior: Posterior,
}

/// A few dozen rounds converge to rounding; the bound only guards against endless crawling.
const MOST_ROUNDS: usize = 1000;

impl<S: PartialEq + Clone, C: PartialEq + Clone> Fit<S, C> {
    /// Gives every session and camera its number; nothing is fitted yet.
    pub(super) fn seating(sheets: impl Iterator<Item = (S, C)>, spread: Spread) -> Self {
        let (mut sessions, mut cameras) = (Vec::new(), Vec::new());
        let rows: Vec<Row> = sheets
            .map(|(session, camera)| Row {
                session: place(&mut sessions, session),
                camera: place(&mut cameras, camera),
                stops: 0.0,
                scale2: 1.0,
                lever: 0.0,
            })
            .collect();
        let prior = Prior { sessions: sessions.len() + 1, cameras: cameras.len() + 1, spread, slope: None };
        let posterior = Posterior::of(&prior, &[], &[]);
        let weights = vec![1.0; rows.len()];
        Self { sessions, cameras, spread, rows, weights, posterior }
    }

    /// Fits by EM: weights from residuals, offsets from weights, until both stay. `observed` holds
    /// each sheet's observation with its lever on the slope.
    pub(super) fn settle(
        &mut self,
        observed: Vec<(f64, f64)>,
        judged: impl Iterator<Item = Judged>,
        slope: Option<(f64, f64)>,
    ) {
        for ((row, (stops, lever)), judged) in self.rows.iter_mut().zip(observed).zip(judged) {
            let scale = match judged {
                Judged::ByEye => self.spread.noise_by_eye,
                Judged::ByScan => self.spread.noise_by_scan,
            };
            (row.stops, row.lever, row.scale2) = (stops, lever, scale.powi(2));
        }
        let (sessions, cameras) = (self.sessions.len() + 1, self.cameras.len() + 1);
        let prior = Prior { sessions, cameras, spread: self.spread, slope };
        self.posterior = Posterior::of(&prior, &self.rows, &self.weights);
        for _ in 0..MOST_ROUNDS {
            let mut moved = 0.0f64;
            for (row, weight) in self.rows.iter().zip(&mut self.weights) {
                let (mean, variance) = self.posterior.sum_of(row.session, row.camera, row.lever);
                let r2 = (row.stops - mean).powi(2);
                let next = 5.0 / (4.0 + (r2 + variance) / row.scale2);
                moved = moved.max((next - *weight).abs());
                *weight = next;
            }
            self.posterior = Posterior::of(&prior, &self.rows, &self.weights);
            if moved < 1e-12 {
                break;
            }
        }
    }

    pub(super) fn session(&self, session: &S) -> usize {
        self.sessions.iter().position(|seen| seen == session).map_or(0, |at| at + 1)
    }

    pub(super) fn camera(&self, camera: &C) -> usize {
        self.cameras.iter().position(|seen| seen == camera).map_or(0, |at| at + 1)
    }
}

/// The number of a session or camera, from one up; a new one is added.
fn place<T: PartialEq>(seen: &mut Vec<T>, one: T) -> usize {
    seen.iter().position(|other| *other == one).unwrap_or_else(|| {
        seen.push(one);
        seen.len() - 1
    }) + 1
}
