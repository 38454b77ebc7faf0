//! The hole that diffraction theory itself prefers, by what one calls sharp.
//!
//! With d = C √(λL), no criterion without an absolute frequency lets C depend on distance or
//! wavelength, so C from 0.6 to 3 holds every optimum: 1.609 for the steepest edge, 1.38 to 1.79 for
//! the others (computed for this project by two independent methods).

use super::{Diffraction, Spectrum, per_mm};
use crate::calc::optics::hole_formula::reduced_distance_mm;
use crate::calc::quantity::{HoleConstant, HoleDiameter, HoleToFilm, SubjectDistance};

/// What is to be the best.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Criterion {
    /// The steepest image of a straight edge: recommended.
    Edge,
    /// The highest frequency at which the contrast falls to a level (0 to 1).
    Contrast(f64),
    /// The smallest radius that holds a share of the energy (0 to 1).
    Energy(f64),
}

/// The sharpest hole and its constant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SharpestHole {
    /// Its diameter.
    pub hole: HoleDiameter,
    /// The constant C that gives it by the hole formula at the light's mean wavelength.
    pub constant: HoleConstant,
}

const LEAST_C: f64 = 0.6;
const GREATEST_C: f64 = 3.0;
const STEPS: u32 = 60;

/// The sharpest hole by a criterion.
pub fn sharpest_hole(
    hole_to_film: HoleToFilm,
    subject: Option<SubjectDistance>,
    light: Spectrum,
    criterion: Criterion,
) -> SharpestHole {
    let scale = (light.mean_mm() * reduced_distance_mm(hole_to_film, subject)).sqrt();
    let goodness = |c: f64| {
        let image =
            Diffraction { a: c * scale / 2.0, v: hole_to_film.as_mm(), per_u: per_mm(subject), spectrum: light };
        match criterion {
            Criterion::Edge => image.edge_sharpness_per_mm(),
            Criterion::Contrast(level) => image.contrast_limit(level),
            Criterion::Energy(share) => -image.encircled_radius(share),
        }
    };
    let c = greatest(goodness);
    SharpestHole { hole: HoleDiameter::computed(c * scale), constant: HoleConstant::computed(c) }
}

/// Where a function is greatest: the best of a row of values, then the golden section between its
/// neighbours. The row makes it safe against the cliffs that contrast criteria have.
fn greatest(f: impl Fn(f64) -> f64) -> f64 {
    let at = |i: u32| LEAST_C + (GREATEST_C - LEAST_C) * f64::from(i) / f64::from(STEPS);
    let (best, _) = (0..=STEPS)
        .map(|i| (i, f(at(i))))
        .fold((0, f64::NEG_INFINITY), |best, now| if now.1 > best.1 { now } else { best });
    let (mut low, mut high) = (at(best.saturating_sub(1)), at((best + 1).min(STEPS)));
    let golden = (5f64.sqrt() - 1.0) / 2.0;
    let (mut a, mut b) = (high - golden * (high - low), low + golden * (high - low));
    let (mut fa, mut fb) = (f(a), f(b));
    while high - low > 1e-5 {
        if fa > fb {
            (high, b, fb) = (b, a, fa);
            a = high - golden * (high - low);
            fa = f(a);
        } else {
            (low, a, fa) = (a, b, fb);
            b = low + golden * (high - low);
            fb = f(b);
        }
    }
    (low + high) / 2.0
}
