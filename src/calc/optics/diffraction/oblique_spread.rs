//! The image of a point away from the axis.
//!
//! The hole is seen as an ellipse and its light is out of step by another amount along the tilt than across
//! it. With every length of the opening divided by the hole's radius a, `U` and `v` as in the tangential (t)
//! and the sagittal (s) direction of [`Diffraction::off_axis`]:
//!
//! - field at x: `F = (1/π) ∫∫ e^{i(U_t u² + U_s w²)/2} e^{-i(p u + q w)} du dw` over the disc, `p = 2πa x_t/(λ v_t)`,
//!   `q = 2πa x_s/(λ v_s)`; brightness against no plate `U_t U_s |F|²/4`. The phase is
//!   `ψ = A(u - p/2A)² + B(w - q/2B)²` but for a constant, `A = U_t/2`, `B = U_s/2`; as `e^{iψ} r dr` is a differential
//!   in lengths that make ψ round, the area becomes the disc's edge:
//!   `F = (1/2πi) ∮ (e^{iψ} - 1)/ψ (1 - (p/2A) cos φ - (q/2B) sin φ) dφ`, exactly, and a periodic
//!   integrand asks for no more places than it has waves;
//! - transfer at any azimuth: the disc's overlap with itself shifted by `σ = λ(v_t ν_t, v_s ν_s)/a`, with the phase
//!   `g·x`, `g = (U_t σ_t, U_s σ_s)` (`oblique_overlap`);
//! - the energy within a circle follows from that (`oblique_energy`).
//!
//! To this order the image is the same outwards as inwards; by exact path lengths one side is up to 2 % brighter, the
//! other as much fainter, some tenths of a millimetre off at 50 degrees.
//!
//! Derived for this project from Hopkins, Proc. R. Soc. A 231 (1955). The tests compare it with a
//! two-dimensional sum over exact path lengths (`tests/reference/oblique.py`).

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;

use super::oblique_overlap::overlap;
use super::{Diffraction, Direction, Film, PlainShadow, PointSpread, Spectrum};
use crate::calc::quantity::{FieldAngle, HoleDiameter, SubjectDistance};

/// The image of a point away from the axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ObliqueSpread {
    pub(super) tangential: Diffraction,
    pub(super) sagittal: Diffraction,
    pub(super) spectrum: Spectrum,
}

impl ObliqueSpread {
    /// The image at a field angle.
    ///
    /// # Errors
    /// [`PlainShadow`] as on the axis.
    pub fn new(
        hole: HoleDiameter,
        film: Film,
        subject: Option<SubjectDistance>,
        spectrum: Spectrum,
        field_angle: FieldAngle,
    ) -> Result<Self, PlainShadow> {
        let towards = |direction| Diffraction::off_axis(hole, film, subject, spectrum, field_angle, direction);
        Ok(Self { tangential: towards(Direction::Tangential)?, sagittal: towards(Direction::Sagittal)?, spectrum })
    }

    /// The Fresnel number at the mean wavelength, in the direction where it is greater.
    pub fn fresnel_number(&self) -> f64 {
        self.tangential.fresnel_number().max(self.sagittal.fresnel_number())
    }

    /// The radius at which Lommel's V is so much greater than U, in mm, in the direction where that comes first.
    pub fn radius_beyond_shadow_mm(&self, v_less_u: f64) -> f64 {
        self.tangential.radius_beyond_shadow_mm(v_less_u).min(self.sagittal.radius_beyond_shadow_mm(v_less_u))
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

    /// The transfer where the shift is `λ kappa / a` under an azimuth.
    pub(super) fn overlap_at(&self, kappa: f64, azimuth: f64) -> f64 {
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
}

/// `|(1/π) ∫∫ e^{i(a u² + b w²)} cos(p u) cos(q w)|²` over the unit disc, by its edge.
fn field_squared(a: f64, b: f64, p: f64, q: f64) -> f64 {
    let waves = (a - b).abs() + p.hypot(q);
    // beyond its waves a periodic function's coefficients fall faster than any power
    let places = (waves + 15.0 * waves.cbrt() + 40.0).ceil();
    let (u0, w0) = (p / (2.0 * a), q / (2.0 * b));
    let mut sum = Complex64::ZERO;
    for k in 0..places as u32 {
        let (sin, cos) = (TAU * f64::from(k) / places).sin_cos();
        let half = (a * (cos - u0).powi(2) + b * (sin - w0).powi(2)) / 2.0;
        // (e^{iψ} - 1)/(iψ)
        let step = Complex64::cis(half) * if half < 1e-8 { 1.0 } else { half.sin() / half };
        sum += step * (1.0 - u0 * cos - w0 * sin);
    }
    (sum / places).norm_sqr()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use std::f64::consts::FRAC_PI_2;

    use super::*;
    use crate::calc::optics::diffraction::quadrature::{integral, nodes};
    use crate::calc::quantity::{HoleToFilm, InsideDiameter, Wavelength};

    fn spread(d: f64, film: Film, near: Option<f64>, light: Spectrum, deg: f64) -> ObliqueSpread {
        let near = near.map(|u| SubjectDistance::new(u).unwrap());
        ObliqueSpread::new(HoleDiameter::new(d).unwrap(), film, near, light, FieldAngle::new(deg).unwrap()).unwrap()
    }

    fn film(curved: bool, mm: f64) -> Film {
        if curved { Film::Curved(InsideDiameter::new(mm).unwrap()) } else { Film::Flat(HoleToFilm::new(mm).unwrap()) }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(16))]

        /// Every law at once: the energy is the point spread's, grows, and goes to one; the transfer along and across
        /// is that of the two directions; towards the axis everything becomes the image on it.
        #[test]
        fn the_image_of_a_point_obeys_its_laws(
            n in 0.05..6.0f64, mm in 10.0..2000.0f64, curved in any::<bool>(), near in proptest::option::of(200.0..5000.0f64),
            band in prop::bool::weighted(0.15), deg in 0.0..=70.0f64, part in 0.0..1.0f64,
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
                let far = there.radius_beyond_shadow_mm(100.0);
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

    /// `|(1/π) ∫∫ e^{i(A u² + B w²)} cos(p u) cos(q w)|²` as it stands, over the area of the disc.
    fn by_area(a: f64, b: f64, p: f64, q: f64) -> f64 {
        let (mut real, mut imaginary) = (0.0, 0.0);
        for (phi, weight) in nodes(0.0, FRAC_PI_2, FRAC_PI_2 * (2.0 * (a + b) + p + q) + 12.0) {
            let (u, chord) = phi.sin_cos();
            for (w, dw) in nodes(0.0, chord, chord * (2.0 * b * chord + q)) {
                let wave = weight * chord * dw * (p * u).cos() * (q * w).cos();
                let (sin, cos) = (a * u * u + b * w * w).sin_cos();
                real += wave * cos;
                imaginary += wave * sin;
            }
        }
        (4.0 / PI).powi(2) * (real * real + imaginary * imaginary)
    }

    #[test]
    fn the_field_by_the_edge_is_the_field_by_the_area() {
        for (a, b) in [(1e-6, 1e-4), (0.01, 0.3), (2.0, 2.0), (1.5, 7.0), (40.0, 12.0), (90.0, 90.0)] {
            for (p, q) in [(0.0, 0.0), (1e-5, 3.0), (0.4, 0.0), (2.0 * a, 0.0), (a, 2.0 * b), (30.0, 50.0)] {
                let (edge, area) = (field_squared(a, b, p, q), by_area(a, b, p, q));
                assert!((edge - area).abs() < 1e-9, "{a} {b} {p} {q}: {edge} {area}");
            }
        }
    }

    #[test]
    fn of_a_large_hole_the_image_beside_the_axis_is_the_image_on_it() {
        let light = Spectrum::single(Wavelength::new(550.0).unwrap());
        for (d, mm) in [(2.0, 40.0), (5.0, 10.0)] {
            let there = spread(d, film(false, mm), None, light, 0.01);
            for part in [0.0, 0.3, 0.9, 1.0, 1.3] {
                let radius = part * d / 2.0;
                let (got, wanted) =
                    (there.point_spread(0.8 * radius, 0.6 * radius), there.sagittal.point_spread(radius));
                assert!(
                    (got.relative_intensity - wanted.relative_intensity).abs() < 1e-3,
                    "{d} {part}: {got:?} {wanted:?}"
                );
            }
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
