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

    pub(super) fn lommel_v(&self, radius_mm: f64, lambda: f64) -> f64 {
        TAU * self.a * radius_mm / (lambda * self.v)
    }

    fn relative_intensity_at(&self, radius_mm: f64, lambda: f64) -> f64 {
        let (u, v) = (self.lommel_u(lambda), self.lommel_v(radius_mm, lambda));
        if u / 2.0 + v > LONG_PHASE { by_series(u, v) } else { by_quadrature(u, v) }
    }
}

/// Beyond this phase Lommel's series cost less than following it.
const LONG_PHASE: f64 = 60.0;

/// The integral as it stands.
fn by_quadrature(u: f64, v: f64) -> f64 {
    let (mut real, mut imaginary) = (0.0, 0.0);
    for (t, w) in nodes(0.0, 1.0, u / 2.0 + v) {
        let amplitude = w * t * libm::j0(v * t);
        let (sin, cos) = (u * t * t / 2.0).sin_cos();
        real += amplitude * cos;
        imaginary += amplitude * sin;
    }
    u * u * (real * real + imaginary * imaginary)
}

/// Lommel's series (Born & Wolf 8.8; Mielenz 1998): with r the smaller of U/V and V/U, `A = Σ (-1)^k r^2k J_2k(V)` and
/// `B = Σ (-1)^k r^(2k+1) J_2k+1(V)`. In the shadow (V > U) `U₁ = B`, `U₂ = J₀ - A`; in the light `V₀ = A`, `V₁ = B`. The
/// Bessel functions come from their recurrence downwards (Miller), which is stable, at three operations each.
fn by_series(u: f64, v: f64) -> f64 {
    let r = (u / v).min(v / u);
    let (a, b, j0) = if v < 1e-9 { (1.0, 0.0, 1.0) } else { alternating_sums(v, r) };
    if v > u {
        let second = j0 - a;
        return b * b + second * second;
    }
    let (sin, cos) = ((u + v * v / u) / 2.0).sin_cos();
    1.0 + a * a + b * b - 2.0 * (a * cos + b * sin)
}

/// A and B of [`by_series`], and J₀.
fn alternating_sums(v: f64, r: f64) -> (f64, f64, f64) {
    // beyond V the functions fall faster than any power: this far on they are below 1e-20
    let start = 2 * ((v + 15.0 * v.cbrt() + 40.0) / 2.0).ceil() as u32;
    let (r2, two_over_v) = (r * r, 2.0 / v);
    let (mut next, mut now) = (0.0, 1e-250);
    let (mut even, mut odd, mut all) = (0.0, 0.0, 0.0);
    for k in (1..=start).rev() {
        if k % 2 == 0 {
            even = now - r2 * even;
            all += now;
        } else {
            odd = now - r2 * odd;
        }
        (next, now) = (now, f64::from(k) * two_over_v * now - next);
        if now.abs() > 1e200 {
            for value in [&mut next, &mut now, &mut even, &mut odd, &mut all] {
                *value *= 1e-200;
            }
        }
    }
    // J₀ + 2 (J₂ + J₄ + …) = 1
    let scale = 1.0 / (now + 2.0 * all);
    ((now - r2 * even) * scale, r * odd * scale, now * scale)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_series_and_the_integral_agree() {
        for u in [0.02, 1.0, 12.5, 130.0, 1000.0] {
            for ratio in [0.0, 1e-6, 0.1, 0.9, 1.0, 1.1, 3.0] {
                let (series, integral) = (by_series(u, u * ratio), by_quadrature(u, u * ratio));
                // the integral is multiplied by U²
                assert!((series - integral).abs() < 1e-10 + 1e-15 * u * u, "{u} {ratio}: {series} {integral}");
            }
        }
    }
}
