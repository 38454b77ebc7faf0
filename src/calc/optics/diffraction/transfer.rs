//! How contrast is carried over: the optical transfer function of a defocused round opening.
//!
//! `OTF(ν) = (4/π) ∫₀^{1-s/2} cos(U s x) √(1 - (x + s/2)²) dx`, `s = λvν/a`; zero from `ν = d/(λv)`.
//! Real and signed: where it is negative, light and dark have changed places.

use std::f64::consts::{FRAC_PI_2, PI};

use super::crossing::falls_to_zero;
use super::quadrature::{integral, nodes};
use super::{Diffraction, Spectrum};

/// Steps in which the transfer function is followed outwards, to the width of its fall.
const STEPS: f64 = 32.0;

/// A phase over a band from which on its oscillation is integrated as such, in closed form.
const TURNING_OVER_BAND: f64 = 24.0;

/// A phase that asks for one more panel.
const SECOND_PANEL: f64 = 12.0;

impl Diffraction {
    /// The signed transfer function at a frequency in line pairs per mm.
    pub fn transfer(&self, frequency_per_mm: f64) -> f64 {
        if frequency_per_mm == 0.0 {
            return 1.0;
        }
        let cut_off = 2.0 * self.a / (self.v * frequency_per_mm);
        // At one frequency U·s does not depend on the wavelength, only the overlap's edge h does.
        let mean = self.spectrum.mean_mm();
        let half_s = mean / cut_off;
        let over_band = 2.0 * self.lommel_u(mean) * half_s * half_s * self.spectrum.relative_width();
        let q = self.lommel_u(mean) * 2.0 * half_s;
        if over_band > TURNING_OVER_BAND && q > 2.0 * FAST_PHASE {
            return 4.0 / PI * turning_overlap(&self.spectrum, q, 1.0 / cut_off);
        }
        self.spectrum.average(cut_off, over_band, |lambda| self.transfer_at(frequency_per_mm, lambda))
    }

    fn transfer_at(&self, frequency_per_mm: f64, lambda: f64) -> f64 {
        let half_s = lambda * self.v * frequency_per_mm / self.a / 2.0;
        if half_s >= 1.0 {
            return 0.0;
        }
        let q = self.lommel_u(lambda) * 2.0 * half_s;
        4.0 / PI * overlap(q, half_s)
    }

    /// The frequency beyond which nothing is carried over, per mm: `d/(λv)` of the shortest
    /// wavelength.
    pub fn cut_off_per_mm(&self) -> f64 {
        2.0 * self.a / (self.spectrum.shortest_mm() * self.v)
    }

    /// The lowest frequency at which the modulus falls to a level (0 to 1, both excluded).
    pub fn contrast_limit(&self, level: f64) -> f64 {
        let end = self.cut_off_per_mm();
        // A geometrical shadow would fall to nothing at 1.22 over its diameter. It begins at one, so
        // the modulus first comes down to the level where the function itself does.
        let step = end.min(1.0 / (2.0 * self.a * self.spread())) / STEPS;
        let above_level = |frequency: f64| self.transfer(frequency) - level;
        let mut above = 0.0;
        while above + step < end && above_level(above + step) > 0.0 {
            above += step;
        }
        falls_to_zero(above, (above + step).min(end), above_level)
    }

    /// Frequencies from 0 to the cut-off with the transfer function times their quadrature weights.
    #[cfg(test)]
    pub(super) fn transfer_nodes(&self) -> Vec<(f64, f64)> {
        self.transfer_nodes_to(self.cut_off_per_mm(), 0.0)
    }

    /// The same up to a frequency, close enough to follow a further factor of so much phase.
    pub(super) fn transfer_nodes_to(&self, end: f64, further_phase: f64) -> Vec<(f64, f64)> {
        let shortest = self.spectrum.shortest_mm();
        // The phase U s (1 - s/2) turns fastest at 0. Near the cut-off what is left falls with the power
        // 3/2: a second panel at least.
        let turn = 2.0 * self.lommel_u(shortest) * end / self.cut_off_per_mm();
        let follow = SECOND_PANEL + turn + further_phase;
        nodes(0.0, end, follow).map(|(nu, w)| (nu, w * self.transfer(nu))).collect()
    }
}

/// The average of [`overlap`] over a band whose phase turns fast, with `h = λ per_mm` and the same q for
/// every wavelength: where q (1 - h) is fast enough, what h contributes is smooth and what the end
/// contributes turns as `e^{iq(1-h)}` alone, which is averaged in closed form; the rest is followed.
fn turning_overlap(spectrum: &Spectrum, q: f64, per_mm: f64) -> f64 {
    let fast_to = (1.0 - FAST_PHASE / q) / per_mm;
    let mut sum = 0.0;
    if fast_to > spectrum.shortest_mm() {
        let (real, imaginary) = end_of_overlap(q);
        let (cos, sin) = spectrum.average_turn(fast_to, q, -q * per_mm);
        sum += sin * real + cos * imaginary;
        sum -= spectrum.average(fast_to, 0.0, |lambda| start_of_overlap(q, lambda * per_mm));
    }
    sum + spectrum.average_from(fast_to, 1.0 / per_mm, FAST_PHASE, |lambda| overlap(q, lambda * per_mm))
}

/// `∫ cos(q (t - h)) √(1 - t²) dt` from h to 1: the phase difference over the overlap of two circles.
fn overlap(q: f64, h: f64) -> f64 {
    let phase = q * (1.0 - h);
    if phase > FAST_PHASE {
        return fast_overlap(q, h);
    }
    slow_overlap(q, h)
}

/// The integral as it stands; t = sin φ takes the root out of it. The phase turns fastest at h.
fn slow_overlap(q: f64, h: f64) -> f64 {
    let from = h.asin();
    integral(from, FRAC_PI_2, q * (FRAC_PI_2 - from), |phi| (q * (phi.sin() - h)).cos() * phi.cos().powi(2))
}

/// Above this phase the path is turned into the complex plane.
const FAST_PHASE: f64 = 40.0;

/// The same for a fast phase, at a cost that does not grow with it: the integral of `e^{iqt}` times the
/// root from h to 1 is that straight up from h less that straight up from 1, and on both the
/// oscillation becomes a decay `e^{-qy}` (steepest descent), which Watson's lemma turns into powers of
/// 1/q.
fn fast_overlap(q: f64, h: f64) -> f64 {
    let (real, imaginary) = end_of_overlap(q);
    let (sin, cos) = (q * (1.0 - h)).sin_cos();
    sin * real + cos * imaginary - start_of_overlap(q, h)
}

/// What the beginning h contributes, by the first, third and fifth derivative of the root there. The
/// next term is below 5e-11 where `q (1 - h)` is above [`FAST_PHASE`].
fn start_of_overlap(q: f64, h: f64) -> f64 {
    let (h2, rest) = (h * h, 1.0 - h * h);
    let by = 1.0 / (q * q * rest * rest);
    -h / (q * q * rest.sqrt()) * (1.0 - by * (3.0 - by * (45.0 + 60.0 * h2)))
}

/// What the end 1 contributes, real and imaginary: `∫ e^{-qy} √(y² - 2iy) dy`, the series of its second
/// factor integrated term by term. What is left out is below 1e-12 above [`FAST_PHASE`].
fn end_of_overlap(q: f64) -> (f64, f64) {
    const TERMS: u32 = 7;
    // (1 - i) Γ(3/2) / q^(3/2) first
    let first = PI.sqrt() / 2.0 * q.powf(-1.5);
    let (mut re, mut im) = (first, -first);
    let (mut real, mut imaginary) = (0.0, 0.0);
    for n in 0..TERMS {
        real += re;
        imaginary += im;
        let n = f64::from(n);
        let next = (0.5 - n) / (n + 1.0) * (n + 1.5) / (2.0 * q);
        (re, im) = (-im * next, re * next);
    }
    (real, imaginary)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_round_the_overlap_agree() {
        for h in [0.0, 0.01, 0.3, 0.7, 0.9, 0.99] {
            for phase in [40.1, 61.0, 100.0, 777.0, 9000.0] {
                let q = phase / (1.0 - h);
                let (slow, fast) = (slow_overlap(q, h), fast_overlap(q, h));
                assert!((fast - slow).abs() < 5e-11, "{h} {phase}: {fast} {slow}");
            }
        }
    }
}
