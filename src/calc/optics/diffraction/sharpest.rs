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
/// A row of values this close finds the hill; a tenth of C is a fifth of the narrowest one's width.
const STEPS: u32 = 24;
/// As close as C is found: the hills are flat to some 1e-8 within it.
const CLOSE: f64 = 1e-4;

/// A camera's distances and light, with the holes that C stands for in it.
#[derive(Clone, Copy)]
struct Scale {
    hole_to_film: HoleToFilm,
    subject: Option<SubjectDistance>,
    light: Spectrum,
    /// √(λL), mm.
    length_mm: f64,
}

impl Scale {
    fn of(hole_to_film: HoleToFilm, subject: Option<SubjectDistance>, light: Spectrum) -> Self {
        let length_mm = (light.mean_mm() * reduced_distance_mm(hole_to_film, subject)).sqrt();
        Self { hole_to_film, subject, light, length_mm }
    }

    /// How good a hole is by a criterion; the greater the better, never negative.
    fn goodness(&self, criterion: Criterion, c: f64) -> f64 {
        let image = Diffraction {
            a: c * self.length_mm / 2.0,
            v: self.hole_to_film.as_mm(),
            per_u: per_mm(self.subject),
            spectrum: self.light,
        };
        match criterion {
            Criterion::Edge => image.edge_sharpness_per_mm(),
            Criterion::Contrast(level) => image.contrast_limit(level),
            Criterion::Energy(share) => 1.0 / image.encircled_radius(share),
        }
    }
}

/// The sharpest hole by a criterion.
pub fn sharpest_hole(
    hole_to_film: HoleToFilm,
    subject: Option<SubjectDistance>,
    light: Spectrum,
    criterion: Criterion,
) -> SharpestHole {
    let scale = Scale::of(hole_to_film, subject, light);
    let c = greatest(|c| scale.goodness(criterion, c));
    SharpestHole { hole: HoleDiameter::computed(c * scale.length_mm), constant: HoleConstant::computed(c) }
}

/// How much sharpness a hole within the tolerance may lack: a tenth.
const TOLERATED: f64 = 0.9;

/// The least and the greatest hole round the sharpest one between which sharpness stays within ten per
/// cent: how carefully a hole has to be made.
pub fn tolerance(
    hole_to_film: HoleToFilm,
    subject: Option<SubjectDistance>,
    light: Spectrum,
    criterion: Criterion,
    sharpest: SharpestHole,
) -> [HoleDiameter; 2] {
    let scale = Scale::of(hole_to_film, subject, light);
    let best = sharpest.constant.as_number();
    let least = TOLERATED * scale.goodness(criterion, best);
    [-1.0, 1.0].map(|side| {
        // Out to the first place that is no longer good enough, then between it and the one before.
        let (mut good, mut bad) = (best, best + side * 0.1);
        while bad > LEAST_C && bad < GREATEST_C && scale.goodness(criterion, bad) >= least {
            (good, bad) = (bad, bad + side * 0.1);
        }
        while (bad - good).abs() > CLOSE {
            let middle = (good + bad) / 2.0;
            if scale.goodness(criterion, middle) >= least {
                good = middle;
            } else {
                bad = middle;
            }
        }
        HoleDiameter::computed((good + bad) / 2.0 * scale.length_mm)
    })
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
    while high - low > CLOSE {
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
