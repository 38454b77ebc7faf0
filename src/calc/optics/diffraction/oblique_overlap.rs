//! How much of a tilted opening's light keeps step with that of the opening itself, shifted:
//! `(1/π) ∫∫ cos(g·x)` over the overlap of two unit circles 2h apart, g along and across the line of their middles.
//!
//! For a slow phase one integral along the line, a closed form across it. For a fast one Gauss's theorem turns the
//! area into its edge, two arcs alike: with `g = γ (cos δ, sin δ)`
//!
//! `overlap = 2/(πγ) Im e^{-i γ h cos δ} ∫ e^{iγ cos x} cos x dx` from `-acos h - δ` to `acos h - δ`,
//!
//! and each end's path is turned into the complex plane where `e^{iγ cos z}` decays as `e^{-t²}` (steepest descent); if
//! `x = 0`, where the edge faces g, lies between them, what passes over it is added: `iπ H₁(γ)`. Nothing is expanded
//! in powers of 1/γ, so that the ends may come as near to that place as they like.

use std::f64::consts::{FRAC_PI_2, PI};

use num_complex::Complex64;

use super::quadrature::{integral, nodes};

/// Above this phase the edge is followed instead of the area.
const FAST_PHASE: f64 = 60.0;

/// The overlap's share of a circle, with its phase; 0 where the circles do not touch (h from 1).
pub fn overlap(along: f64, across: f64, h: f64) -> f64 {
    if h >= 1.0 {
        return 0.0;
    }
    let (along, across) = (along.abs(), across.abs());
    if (along + across) * (FRAC_PI_2 - h.asin()) > FAST_PHASE {
        fast_overlap(along, across, h)
    } else {
        slow_overlap(along, across, h)
    }
}

fn slow_overlap(along: f64, across: f64, h: f64) -> f64 {
    let from = h.asin();
    let turn = (along + across) * (FRAC_PI_2 - from);
    let sum = integral(from, FRAC_PI_2, turn, |phi| {
        let (sin, cos) = phi.sin_cos();
        (along * (sin - h)).cos() * sine_over(across, cos) * cos
    });
    4.0 / PI * sum
}

fn fast_overlap(along: f64, across: f64, h: f64) -> f64 {
    let (gamma, delta, end) = (along.hypot(across), across.atan2(along), h.acos());
    let mut edge = from_end(gamma, -end - delta) - from_end(gamma, end - delta);
    if end > delta {
        edge += Complex64::new(-libm::y1(gamma), libm::j1(gamma)) * PI;
    }
    2.0 / (PI * gamma) * (Complex64::cis(-along * h) * edge).im
}

/// `∫ e^{iγ cos z} cos z dz` from a place between -π and π/2 to where it decays: on the way
/// `cos z = cos x + i t²/γ`. Near 0 and -π the integrand's root comes close to the path; nodes even in `asinh t` follow it.
fn from_end(gamma: f64, x: f64) -> Complex64 {
    /// `e^{-t²}` is below 1e-9 there.
    const FURTHEST: f64 = 4.6;
    /// What lies nearer is too little to be told apart.
    const NEAREST: f64 = 3e-3;
    /// Where the root is that far from the path, even nodes do.
    const FAR: f64 = 8.0;
    let (sin, cos) = x.sin_cos();
    let at = |t: f64| {
        let s = t * t / gamma;
        let root = Complex64::new(sin * sin + s * s, -2.0 * cos * s).sqrt();
        Complex64::new(s, -cos) * (t * (-t * t).exp()) / root
    };
    let near = gamma.sqrt() * sin.abs();
    let sum: Complex64 = if near > FAR {
        nodes(0.0, FURTHEST, 6.0).map(|(t, w)| at(t) * w).sum()
    } else {
        let near = near.max(NEAREST);
        let end = (FURTHEST / near).asinh();
        nodes(0.0, end, 4.0 * end).map(|(u, w)| at(near * u.sinh()) * (w * near * u.cosh())).sum()
    };
    let side = if sin > 0.0 { 2.0 } else { -2.0 };
    Complex64::cis(gamma * cos) * sum * (side / gamma)
}

/// `sin(g z)/g`.
fn sine_over(g: f64, z: f64) -> f64 {
    let x = g * z;
    if x.abs() < 1e-4 { z * (1.0 - x * x / 6.0) } else { x.sin() / g }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_area_and_its_edge_agree() {
        for h in [0.0f64, 1e-4, 0.01, 0.3, 0.7, 0.9, 0.99] {
            for gamma in [61.0, 100.0, 777.0, 20_000.0] {
                for delta in [0.0, 1e-5, 0.01, 0.3, 0.8, 1.3, 1.569, FRAC_PI_2] {
                    // at the very place where the edge faces g as well
                    for delta in [delta, h.acos().min(FRAC_PI_2), h.acos() - 1e-3] {
                        let (along, across) = (gamma * delta.cos(), gamma * delta.sin());
                        let (slow, fast) = (slow_overlap(along, across, h), fast_overlap(along, across, h));
                        assert!((fast - slow).abs() < 1e-7 / gamma, "{h} {gamma} {delta}: {fast} {slow}");
                    }
                }
            }
        }
    }
}
