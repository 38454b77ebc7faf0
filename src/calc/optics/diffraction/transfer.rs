//! How contrast is carried over: the optical transfer function of a defocused round opening.
//!
//! `OTF(ν) = (4/π) ∫₀^{1-s/2} cos(U s x) √(1 - (x + s/2)²) dx`, `s = λvν/a`; zero from `ν = d/(λv)`.
//! Real and signed: where it is negative, light and dark have changed places.

use std::f64::consts::{FRAC_PI_2, PI};

use super::Diffraction;
use super::crossing::falls_to_zero;
use super::quadrature::{integral, nodes};

/// Steps in which the transfer function is followed outwards, to the width of its fall.
const STEPS: f64 = 32.0;

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

    /// Frequencies from 0 to the cut-off with the transfer function times their quadrature weights,
    /// close enough to follow a further factor of so much phase.
    pub(super) fn transfer_nodes(&self, further_phase: f64) -> Vec<(f64, f64)> {
        let shortest = self.spectrum.shortest_mm();
        // Near the cut-off it falls with the power 3/2: a second panel at least.
        let follow = SECOND_PANEL + self.lommel_u(shortest) + further_phase;
        nodes(0.0, self.cut_off_per_mm(), follow).map(|(nu, w)| (nu, w * self.transfer(nu))).collect()
    }
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
const FAST_PHASE: f64 = 60.0;

/// The same for a fast phase, at a cost that does not grow with it: the integral of `e^{iqt}` times
/// the root from h to 1 is that straight up from h less that straight up from 1, and on both the
/// oscillation becomes a decay `e^{-qy}` (steepest descent).
fn fast_overlap(q: f64, h: f64) -> f64 {
    // e^-40 is below rounding; the root is smooth over that stretch since q (1 - h) is greater.
    let up_from_h: f64 = nodes(0.0, 40.0, 36.0)
        .map(|(z, w)| {
            let y = z / q;
            w * (-z).exp() * root(1.0 - h * h + y * y, -2.0 * h * y).1 / q
        })
        .sum();
    // From the end the root itself begins as √y: y = w²/q makes it smooth.
    let (mut real, mut imaginary) = (0.0, 0.0);
    for (s, w) in nodes(0.0, 6.4, 36.0) {
        let y = s * s / q;
        let (re, im) = root(y * y, -2.0 * y);
        let weight = w * (-s * s).exp() * 2.0 * s / q;
        real += weight * re;
        imaginary += weight * im;
    }
    let (sin, cos) = (q * (1.0 - h)).sin_cos();
    -up_from_h + sin * real + cos * imaginary
}

/// Principal square root of a complex number.
fn root(re: f64, im: f64) -> (f64, f64) {
    let size = re.hypot(im);
    (((size + re) / 2.0).sqrt(), ((size - re) / 2.0).max(0.0).sqrt().copysign(im))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_round_the_overlap_agree() {
        for h in [0.0, 0.01, 0.3, 0.7, 0.9] {
            for phase in [61.0, 100.0, 777.0, 9000.0] {
                let q = phase / (1.0 - h);
                let (slow, fast) = (slow_overlap(q, h), fast_overlap(q, h));
                assert!((fast - slow).abs() < 1e-13, "{h} {phase}: {fast} {slow}");
            }
        }
    }
}
