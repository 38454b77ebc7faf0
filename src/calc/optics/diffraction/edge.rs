//! The image of a straight edge.
//!
//! Its greatest steepness is the middle of the line-spread function, `∫ OTF dν` along one direction.
//! The transfer function being the overlap of the opening with itself, the integral along that
//! direction joins each chord of the opening with itself alone, and what is left is a sum over chords
//! of Fresnel's integral squared, whatever the frequency:
//! `8a/(πλv) ∫₀¹ |F(√(1-y²))|² dy`, `F(w) = ∫₀^w exp(iUx²/2) dx` (derived for this project; the tests
//! compare it with the integral of the transfer function itself). Limits: `2/(π a m)`, the shadow of
//! straight rays, for a large hole; `16a/(3πλv)`, Airy's case, for a small one.

use std::f64::consts::{FRAC_PI_2, PI};

use super::Diffraction;
use super::quadrature::nodes;

/// Beyond this phase over a band the rings of its wavelengths are averaged away.
const GREATEST_BAND_PHASE: f64 = 60.0;

impl Diffraction {
    /// Steepness of the image of a straight edge, per mm: the peak of the line-spread function,
    /// `2 ∫ OTF dν` from zero frequency on. What "sharp" looks like, without a threshold or a frequency
    /// chosen by hand.
    pub fn edge_sharpness_per_mm(&self) -> f64 {
        let over_band = self.lommel_u(self.spectrum.mean_mm()) / 2.0 * self.spectrum.relative_width();
        self.spectrum.average(f64::INFINITY, over_band.min(GREATEST_BAND_PHASE), |lambda| {
            8.0 * self.a / (PI * lambda * self.v) * chords(self.lommel_u(lambda))
        })
    }
}

/// `∫₀¹ |F(√(1-y²))|² dy`, with √(1-y²) = sin ψ. Fresnel's integral is carried on from each chord to the
/// next longer one.
fn chords(u: f64) -> f64 {
    let (mut real, mut imaginary, mut reached, mut sum) = (0.0, 0.0, 0.0, 0.0);
    for (psi, weight) in nodes(0.0, FRAC_PI_2, LEAST_PHASE + u / 2.0) {
        let half_chord = psi.sin();
        for (x, w) in nodes(reached, half_chord, u / 2.0 * (half_chord * half_chord - reached * reached)) {
            let (sin, cos) = (u / 2.0 * x * x).sin_cos();
            real += w * cos;
            imaginary += w * sin;
        }
        reached = half_chord;
        sum += weight * half_chord * (real * real + imaginary * imaginary);
    }
    sum
}

/// Asks for sixteen nodes at least.
const LEAST_PHASE: f64 = 4.0;
