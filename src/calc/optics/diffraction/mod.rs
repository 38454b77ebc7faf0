//! What light really does behind a hole: scalar diffraction in Fresnel's approximation.
//!
//! With a the hole's radius, v its distance to the film, u to the subject, `1/L = 1/u + 1/v`:
//! Fresnel number `N = a²/(λL)`, Lommel's `U = 2πN`, `V = 2πaρ/(λv)` at ρ from the image point.
//! Sources: Born & Wolf, Principles of Optics, ch. 8.8 (from memory); Mielenz, J. Res. NIST (1998)
//! and 104 (1999); Hopkins, Proc. R. Soc. A 231 (1955) for the transfer function; all re-derived for
//! this project and checked against exact integrals. A thin round hole much larger than the
//! wavelength, an incoherent subject.
//!
//! Fresnel's approximation takes the path to the second power of the hole's radius; the next term is about
//! `a⁴/(4λv³)` wavelengths on the axis and `a³ sin θ cos² θ/(2λv²)` away from it: nothing for a hole that
//! makes a picture, whole wavelengths for one of 5 mm at 10 mm, whose image is its own shadow anyway.
//!
//! Every integral is by Gauss-Legendre panels whose number grows with the phase to be followed
//! (`quadrature`), so the same code holds from the far field (N → 0) to the shadow of a
//! large hole (N > 4000); where the phase is long the point spread goes by
//! Lommel's series and the transfer function by steepest descent, at a cost that hardly grows. Bessel functions are those of the `libm` crate (below one unit in the last
//! place of their range).

mod cie_daylight;
mod crossing;
mod edge;
mod energy;
mod oblique_energy;
mod oblique_overlap;
mod oblique_spread;
mod off_axis;
mod point_spread;
mod quadrature;
mod sharpest;
mod spectrum;
mod transfer;
mod working;

pub use oblique_spread::ObliqueSpread;
pub use off_axis::{Direction, Film};
pub use point_spread::PointSpread;
pub use sharpest::{Criterion, SharpestHole, sharpest_hole, tolerance};
pub use spectrum::{BandShape, NotABand, Spectrum};
pub use working::sharpest_hole_working;

use std::f64::consts::TAU;

use crate::calc::quantity::{HoleDiameter, HoleToFilm, SubjectDistance};

/// Greatest Fresnel number for which the integrals are done: more than that of a hole of 5 mm, 10 mm from
/// film and subject, in the shortest wavelength (4167). Beyond it the image is the hole's plain shadow, and
/// following the phase would only take long.
pub const GREATEST_FRESNEL_NUMBER: f64 = 4200.0;

/// A hole so large for its distance that its image is a plain shadow.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error(
    "must be from {} to {} mm at this distance and light: a wider hole throws a plain shadow",
    crate::calc::quantity::range_end(HoleDiameter::MIN), rounded_down(*.greatest_mm)
)]
pub struct PlainShadow {
    /// The greatest diameter at this distance and light.
    pub greatest_mm: f64,
    /// How wide the shadow is.
    pub shadow_mm: f64,
}

/// To four figures, so that what is said is itself accepted.
fn rounded_down(mm: f64) -> String {
    let step = 10f64.powf(mm.log10().floor() - 3.0);
    crate::calc::working::figures((mm / step).floor() * step, 4)
}

/// A hole, its distances and the light: what the diffraction image depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Diffraction {
    /// Radius of the hole, mm.
    a: f64,
    /// Distance to the film, or the one that takes its place off the axis, mm.
    v: f64,
    /// One over the distance to the subject, 1/mm; 0 for a far one.
    per_u: f64,
    spectrum: Spectrum,
}

impl Diffraction {
    /// The image on the axis.
    ///
    /// # Errors
    /// [`PlainShadow`] beyond [`GREATEST_FRESNEL_NUMBER`] at the shortest wavelength.
    pub fn new(
        hole: HoleDiameter,
        hole_to_film: HoleToFilm,
        subject: Option<SubjectDistance>,
        spectrum: Spectrum,
    ) -> Result<Self, PlainShadow> {
        Self { a: hole.as_mm() / 2.0, v: hole_to_film.as_mm(), per_u: per_mm(subject), spectrum }.checked()
    }

    fn checked(self) -> Result<Self, PlainShadow> {
        if self.fresnel_number_at(self.spectrum.shortest_mm()) <= GREATEST_FRESNEL_NUMBER {
            return Ok(self);
        }
        let a2 = GREATEST_FRESNEL_NUMBER * self.spectrum.shortest_mm() / self.per_l();
        Err(PlainShadow { greatest_mm: 2.0 * a2.sqrt(), shadow_mm: self.shadow_mm() })
    }

    /// Fresnel number at the mean wavelength: `a²/(λL)`.
    pub fn fresnel_number(&self) -> f64 {
        self.fresnel_number_at(self.spectrum.mean_mm())
    }

    /// Diameter of the shadow that straight rays would draw, mm: `d (1 + v/u)`.
    pub fn shadow_mm(&self) -> f64 {
        2.0 * self.a * self.spread()
    }

    fn fresnel_number_at(&self, lambda: f64) -> f64 {
        self.a * self.a * self.per_l() / lambda
    }

    /// Lommel's U at a wavelength.
    fn lommel_u(&self, lambda: f64) -> f64 {
        TAU * self.fresnel_number_at(lambda)
    }

    /// One over the reduced distance L.
    fn per_l(&self) -> f64 {
        1.0 / self.v + self.per_u
    }

    /// How much wider than itself a hole's shadow is for a near subject: `1 + v/u`.
    fn spread(&self) -> f64 {
        1.0 + self.v * self.per_u
    }
}

/// One over a subject's distance; 0 for a far one.
fn per_mm(subject: Option<SubjectDistance>) -> f64 {
    subject.map_or(0.0, |u| 1.0 / u.as_mm())
}

#[cfg(test)]
mod tests;
