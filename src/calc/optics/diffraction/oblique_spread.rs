//! The image of a point away from the axis, and the energy of it within a circle.
//!
//! The hole is seen as an ellipse and its light is out of step by another amount along the tilt than across
//! it. With every length of the opening divided by the hole's radius a, `U` and `v` as in the tangential (t)
//! and the sagittal (s) direction of [`Diffraction::off_axis`]:
//!
//! - field at x: `F = (1/π) ∬ e^{i(U_t u² + U_s w²)/2} e^{-i(p u + q w)} du dw` over the disc, `p = 2πa x_t/(λ v_t)`,
//!   `q = 2πa x_s/(λ v_s)`; brightness against no plate `U_t U_s |F|²/4`;
//! - transfer at any azimuth: the disc's overlap with itself shifted by `σ = λ(v_t ν_t, v_s ν_s)/a`, with the phase
//!   `g·x`, `g = (U_t σ_t, U_s σ_s)`. Across the shift it is a closed form, along it one integral;
//! - energy within R: `∬ OTF(ν) R J₁(2πRν)/ν d²ν` (Parseval), in polar coordinates of σ.
//!
//! To this order the image is the same outwards as inwards; by exact path lengths one side is up to 2 % brighter, the
//! other as much fainter, some tenths of a millimetre off at 50 degrees.
//!
//! Derived for this project from Hopkins, Proc. R. Soc. A 231 (1955). The tests compare it with a
//! two-dimensional sum over exact path lengths (`tests/reference/oblique.py`).

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::crossing::falls_to_zero;
use super::quadrature::{integral, nodes};
use super::{Diffraction, Direction, Film, PointSpread, Spectrum};
use crate::calc::quantity::{FieldAngle, HoleDiameter, SubjectDistance};

/// Greatest Fresnel number, of the shortest wavelength in either direction. The work grows with its third power.
pub const GREATEST_OBLIQUE_FRESNEL_NUMBER: f64 = 10.0;

/// Greatest field angle, degrees: the image is there four times as long as it is wide, and beyond it the
/// work grows without bound.
pub const GREATEST_OBLIQUE_DEG: f64 = 60.0;

/// Greatest share whose radius is looked for: the outer rings fall off so slowly that more takes too long.
pub const GREATEST_OBLIQUE_SHARE: f64 = 0.9;

/// Greatest distance from the image point, in Lommel's V of the narrower direction.
const FURTHEST_V: f64 = 200.0;

/// A phase that asks for one more panel.
const PANEL: f64 = 12.0;

/// Why the image of a point is not worked out there.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum BeyondOblique {
    /// The hole is too wide for its distance.
    #[error(
        "must be from {} to {} mm off the axis at this angle, distance and light: for a wider hole the integral over \
         the tilted opening takes too long",
        crate::calc::quantity::range_end(HoleDiameter::MIN), super::rounded_down(*.greatest_mm)
    )]
    Hole {
        /// The greatest diameter there.
        greatest_mm: f64,
    },
    /// The place lies too far off.
    #[error(
        "must be from 0 to {GREATEST_OBLIQUE_DEG} ° for the image of a point: further off it is drawn out so long that the \
         integral takes too long"
    )]
    Angle,
}

/// The image of a point away from the axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ObliqueSpread {
    tangential: Diffraction,
    sagittal: Diffraction,
    spectrum: Spectrum,
}

impl ObliqueSpread {
    /// The image at a field angle.
    ///
    /// # Errors
    /// [`BeyondOblique`] beyond [`GREATEST_OBLIQUE_DEG`] or [`GREATEST_OBLIQUE_FRESNEL_NUMBER`].
    pub fn new(
        hole: HoleDiameter,
        film: Film,
        subject: Option<SubjectDistance>,
        spectrum: Spectrum,
        field_angle: FieldAngle,
    ) -> Result<Self, BeyondOblique> {
        if field_angle.as_deg() > GREATEST_OBLIQUE_DEG {
            return Err(BeyondOblique::Angle);
        }
        let [tangential, sagittal] = [Direction::Tangential, Direction::Sagittal]
            .map(|direction| Diffraction::towards(hole, film, subject, spectrum, field_angle, direction));
        let shortest = spectrum.shortest_mm();
        let n = tangential.fresnel_number_at(shortest).max(sagittal.fresnel_number_at(shortest));
        if n > GREATEST_OBLIQUE_FRESNEL_NUMBER {
            let greatest_mm = hole.as_mm() * (GREATEST_OBLIQUE_FRESNEL_NUMBER / n).sqrt();
            return Err(BeyondOblique::Hole { greatest_mm });
        }
        Ok(Self { tangential, sagittal, spectrum })
    }

    /// The greatest distance from the image point that is worked out, mm.
    pub fn furthest_mm(&self) -> f64 {
        let nearer = self.tangential.v.min(self.sagittal.v);
        FURTHEST_V * self.spectrum.shortest_mm() * nearer / (TAU * self.tangential.a)
    }

    /// The point-spread function at a place so far from the image point in the two directions.
    pub fn point_spread(&self, tangential_mm: f64, sagittal_mm: f64) -> PointSpread {
        let (t, s) = (self.tangential, self.sagittal);
        let at = |lambda: f64| {
            let (ut, us) = (t.lommel_u(lambda), s.lommel_u(lambda));
            let (p, q) = (t.lommel_v(tangential_mm, lambda), s.lommel_v(sagittal_mm, lambda));
            ut * us / 4.0 * field_squared(ut / 2.0, us / 2.0, p.abs(), q.abs())
        };
        let mean = self.spectrum.mean_mm();
        let turn = t.lommel_u(mean)
            + s.lommel_u(mean)
            + 2.0 * (t.lommel_v(tangential_mm, mean).abs() + s.lommel_v(sagittal_mm, mean).abs());
        let relative_intensity = self.spectrum.average(f64::INFINITY, turn * self.spectrum.relative_width(), at);
        let shadow = PI * t.a * t.a * t.spread() * s.spread();
        PointSpread { relative_intensity, density_per_mm2: relative_intensity / shadow }
    }

    /// The signed transfer function at a frequency in line pairs per mm, by its parts along the two directions.
    pub fn transfer(&self, tangential_per_mm: f64, sagittal_per_mm: f64) -> f64 {
        let (x, y) = (self.tangential.v * tangential_per_mm, self.sagittal.v * sagittal_per_mm);
        self.overlap_at(x.hypot(y), y.atan2(x))
    }

    /// The share of the energy within a radius up to [`Self::furthest_mm`].
    pub fn encircled_energy(&self, radius_mm: f64) -> f64 {
        share(&self.energy_nodes(radius_mm), radius_mm)
    }

    /// The radius that holds a share of the energy (from 0.001 to [`GREATEST_OBLIQUE_SHARE`]), in mm.
    pub fn encircled_radius(&self, wanted: f64) -> f64 {
        let beyond = 10.0 + 1.5 / (1.0 - wanted.min(GREATEST_OBLIQUE_SHARE));
        let mut outer =
            self.tangential.radius_beyond_shadow_mm(beyond).max(self.sagittal.radius_beyond_shadow_mm(beyond));
        let mut nodes = self.energy_nodes(outer);
        while share(&nodes, outer) < wanted {
            outer *= 2.0;
            nodes = self.energy_nodes(outer);
        }
        falls_to_zero(0.0, outer, |radius| wanted - share(&nodes, radius))
    }

    /// The transfer where the shift is `λ kappa / a` under an azimuth.
    fn overlap_at(&self, kappa: f64, azimuth: f64) -> f64 {
        if kappa == 0.0 {
            return 1.0;
        }
        let (a, mean) = (self.tangential.a, self.spectrum.mean_mm());
        let (sin, cos) = azimuth.sin_cos();
        // U σ does not depend on the wavelength
        let per = mean * kappa / a;
        let (ut, us) = (self.tangential.lommel_u(mean) * per, self.sagittal.lommel_u(mean) * per);
        let (along, across) = (ut * cos * cos + us * sin * sin, (us - ut) * sin * cos);
        let turn = (along + across.abs()) * per / 2.0 * self.spectrum.relative_width();
        self.spectrum.average(2.0 * a / kappa, turn, |lambda| overlap(along, across, lambda * kappa / a / 2.0))
    }

    /// Frequencies and their weights with the transfer function, close enough together for circles up to a radius.
    fn energy_nodes(&self, radius_mm: f64) -> Vec<(f64, f64)> {
        let (t, s, shortest) = (self.tangential, self.sagittal, self.spectrum.shortest_mm());
        let end = 2.0 * t.a / shortest;
        let (ut, us) = (t.lommel_u(shortest), s.lommel_u(shortest));
        let (vt, vs) = (t.lommel_v(radius_mm, shortest), s.lommel_v(radius_mm, shortest));
        let round = PANEL * (t.v / s.v).max(s.v / t.v) + (ut - us).abs() + 2.0 * (vt - vs).abs();
        let mut all = Vec::new();
        for (azimuth, weight) in nodes(0.0, FRAC_PI_2, round) {
            let (sin, cos) = azimuth.sin_cos();
            let slant = (cos / t.v).hypot(sin / s.v);
            let weight = 4.0 * weight / (t.v * s.v * slant);
            let follow = PANEL + 2.0 * ut.max(us) + TAU * radius_mm * slant * end;
            all.extend(
                nodes(0.0, end, follow).map(|(kappa, w)| (slant * kappa, weight * w * self.overlap_at(kappa, azimuth))),
            );
        }
        all
    }
}

fn share(nodes: &[(f64, f64)], radius_mm: f64) -> f64 {
    let r = TAU * radius_mm;
    let sum: f64 = nodes.iter().map(|(nu, weighted)| weighted * libm::j1(r * nu)).sum();
    (radius_mm * sum).clamp(0.0, 1.0)
}

/// `(1/π) ∬ cos(g·x)` over the overlap of two unit circles 2h apart, g along and across the line of their middles.
fn overlap(along: f64, across: f64, h: f64) -> f64 {
    if h >= 1.0 {
        return 0.0;
    }
    let from = h.asin();
    let turn = (along + across.abs()) * (FRAC_PI_2 - from);
    let sum = integral(from, FRAC_PI_2, turn, |phi| {
        let (sin, cos) = phi.sin_cos();
        (along * (sin - h)).cos() * sine_over(across, cos) * cos
    });
    4.0 / PI * sum
}

/// `sin(g z)/g`.
fn sine_over(g: f64, z: f64) -> f64 {
    let x = g * z;
    if x.abs() < 1e-4 { z * (1.0 - x * x / 6.0) } else { x.sin() / g }
}

/// `|(1/π) ∬ e^{i(A u² + B w²)} cos(p u) cos(q w)|²` over the unit disc.
fn field_squared(a: f64, b: f64, p: f64, q: f64) -> f64 {
    let (mut real, mut imaginary) = (0.0, 0.0);
    for (phi, weight) in nodes(0.0, FRAC_PI_2, FRAC_PI_2 * (2.0 * (a + b) + p + q) + PANEL) {
        let (u, chord) = phi.sin_cos();
        let (mut re, mut im) = (0.0, 0.0);
        for (w, dw) in nodes(0.0, chord, chord * (2.0 * b * chord + q)) {
            let (sin, cos) = (b * w * w).sin_cos();
            let wave = dw * (q * w).cos();
            re += wave * cos;
            im += wave * sin;
        }
        let (sin, cos) = (a * u * u).sin_cos();
        let wave = weight * chord * (p * u).cos();
        real += wave * (re * cos - im * sin);
        imaginary += wave * (re * sin + im * cos);
    }
    (4.0 / PI).powi(2) * (real * real + imaginary * imaginary)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::calc::quantity::{HoleToFilm, InsideDiameter, Wavelength};

    fn spread(d: f64, film: Film, near: Option<f64>, light: Spectrum, deg: f64) -> ObliqueSpread {
        let near = near.map(|u| SubjectDistance::new(u).unwrap());
        ObliqueSpread::new(HoleDiameter::new(d).unwrap(), film, near, light, FieldAngle::new(deg).unwrap()).unwrap()
    }

    fn film(curved: bool, mm: f64) -> Film {
        if curved { Film::Curved(InsideDiameter::new(mm).unwrap()) } else { Film::Flat(HoleToFilm::new(mm).unwrap()) }
    }

    #[test]
    fn what_would_take_too_long_is_refused_with_its_range() {
        let light = Spectrum::single(Wavelength::new(550.0).unwrap());
        let at = |d: f64, deg: f64| {
            let (hole, deg) = (HoleDiameter::new(d).unwrap(), FieldAngle::new(deg).unwrap());
            ObliqueSpread::new(hole, film(false, 75.0), None, light, deg)
        };
        assert_eq!(at(0.3, 60.1), Err(BeyondOblique::Angle));
        // sagittal: N = d² cos 30° / (4 × 550 nm × 75 mm) = 10 at 1.3803 mm
        let said = at(2.0, 30.0).unwrap_err().to_string();
        assert!(said.starts_with("must be from 0.01 to 1.380 mm"), "{said}");
        assert!(at(1.38, 30.0).is_ok());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        /// Every law at once: the energy is the point spread's, grows, and goes to one; the transfer along and across
        /// is that of the two directions; towards the axis everything becomes the image on it.
        #[test]
        fn the_image_of_a_point_obeys_its_laws(
            n in 0.05..6.0f64, mm in 10.0..2000.0f64, curved in any::<bool>(), near in proptest::option::of(200.0..5000.0f64),
            band in prop::bool::weighted(0.15), deg in 0.0..=60.0f64, part in 0.0..1.0f64,
        ) {
            let light = if band { Spectrum::blue_green() } else { Spectrum::single(Wavelength::new(550.0).unwrap()) };
            let per_l = 1.0 / mm + near.map_or(0.0, |u| 1.0 / u);
            let d = 2.0 * (n * 360e-6 / per_l).sqrt();
            let film = film(curved, mm);
            let there = spread(d, film, near, light, deg);
            for (direction, x, y) in [(Direction::Tangential, 1.0, 0.0), (Direction::Sagittal, 0.0, 1.0)] {
                let subject = near.map(|u| SubjectDistance::new(u).unwrap());
                let hole = HoleDiameter::new(d).unwrap();
                let one = Diffraction::off_axis(hole, film, subject, light, FieldAngle::new(deg).unwrap(), direction).unwrap();
                let nu = part * one.cut_off_per_mm();
                prop_assert!((there.transfer(x * nu, y * nu) - one.transfer(nu)).abs() < 1e-6);
            }
            let half = there.encircled_radius(0.5);
            prop_assert!((there.encircled_energy(half) - 0.5).abs() < 1e-5);
            let more = there.encircled_energy(1.3 * half);
            prop_assert!((0.5..=1.0).contains(&more), "{more}");
            if !band {
                // what lies outside falls off with 1/V: Airy's 2/(πV) at the narrowest, of the longer direction
                let far = there.furthest_mm();
                let v = there.tangential.lommel_v(far, 550e-6).min(there.sagittal.lommel_v(far, 550e-6));
                let u = there.tangential.lommel_u(550e-6).max(there.sagittal.lommel_u(550e-6));
                let inside = there.encircled_energy(far);
                prop_assert!(inside > 1.0 - 1.5 / (v - u).max(2.0), "{inside} {v} {u}");
            }
            let near_axis = spread(d, film, near, light, 0.01);
            let axis = near_axis.sagittal;
            let radius = part * 2.0 * axis.encircled_radius(0.5);
            prop_assert!((near_axis.encircled_energy(radius) - axis.encircled_energy(radius)).abs() < 2e-5);
            let (got, wanted) = (near_axis.point_spread(0.6 * radius, 0.8 * radius), axis.point_spread(radius));
            prop_assert!((got.relative_intensity - wanted.relative_intensity).abs() < 2e-5, "{got:?} {wanted:?}");
        }
    }

    /// The point spread added up over a circle is the energy within it.
    #[test]
    fn the_energy_within_a_circle_is_the_point_spread_added_up() {
        let light = Spectrum::single(Wavelength::new(550.0).unwrap());
        for (film, deg, near) in [(film(false, 75.0), 45.0, None), (film(true, 90.0), 35.0, Some(400.0))] {
            let there = spread(0.35, film, near, light, deg);
            let radius = there.encircled_radius(0.7);
            let added = 4.0
                * integral(0.0, FRAC_PI_2, 40.0, |azimuth| {
                    let (sin, cos) = azimuth.sin_cos();
                    integral(0.0, radius, 40.0, |r| r * there.point_spread(r * cos, r * sin).density_per_mm2)
                });
            assert!((added - 0.7).abs() < 1e-4, "{added}");
        }
    }
}
