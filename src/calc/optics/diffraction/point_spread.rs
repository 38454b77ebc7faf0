//! The image of a point: `T(ρ) = U² |∫₀¹ exp(iUt²/2) J₀(Vt) t dt|²`, relative to no plate at all.

use std::f64::consts::{PI, TAU};

use super::Diffraction;
use super::quadrature::nodes;

/// Brightness of the image of a point at a distance from its middle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointSpread {
    /// Illuminance relative to that without the plate: 4 at most, for one wavelength.
    pub relative_intensity: f64,
    /// Share of the image's energy on a square millimetre.
    pub density_per_mm2: f64,
}

impl Diffraction {
    /// The point-spread function at a distance from the image point, on the axis.
    pub fn point_spread(&self, radius_mm: f64) -> PointSpread {
        let mean = self.spectrum.mean_mm();
        let phase = self.lommel_u(mean) + 2.0 * self.lommel_v(radius_mm, mean);
        let over_band = phase * self.spectrum.relative_width();
        let relative_intensity =
            self.spectrum.average(f64::INFINITY, over_band, |lambda| self.relative_intensity_at(radius_mm, lambda));
        PointSpread {
            relative_intensity,
            density_per_mm2: relative_intensity / (PI * (self.a * self.spread()).powi(2)),
        }
    }

    /// The radius at which V is so much greater than U, in mm: that far beyond the geometrical
    /// shadow, counted in rings.
    pub fn radius_beyond_shadow_mm(&self, v_less_u: f64) -> f64 {
        let lambda = self.spectrum.mean_mm();
        (self.lommel_u(lambda) + v_less_u) * lambda * self.v / (TAU * self.a)
    }

    fn lommel_v(&self, radius_mm: f64, lambda: f64) -> f64 {
        TAU * self.a * radius_mm / (lambda * self.v)
    }

    fn relative_intensity_at(&self, radius_mm: f64, lambda: f64) -> f64 {
        let (u, v) = (self.lommel_u(lambda), self.lommel_v(radius_mm, lambda));
        let (mut real, mut imaginary) = (0.0, 0.0);
        for (t, w) in nodes(0.0, 1.0, u / 2.0 + v) {
            let amplitude = w * t * libm::j0(v * t);
            let (sin, cos) = (u * t * t / 2.0).sin_cos();
            real += amplitude * cos;
            imaginary += amplitude * sin;
        }
        u * u * (real * real + imaginary * imaginary)
    }
}
