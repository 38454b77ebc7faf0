//! Diameter, its least uncertainty and the circularity of a hole seen in a scan.

use std::f64::consts::PI;

use crate::calc::working::{Working, figures, plain, scaled};

const MM_PER_INCH: f64 = 25.4;

/// Standard deviation of the pixel count of a disc thrown at random on a grid, over the square root
/// of its radius: `sqrt(4 zeta(3/2) beta(3/2) / (2 pi^2))` (after Kendall, 1948; derived for this
/// project and checked by simulation).
const LATTICE: f64 = 0.6765;

/// Diameter of the disc with the area of a hole, in mm: `2 sqrt(A/pi) x 25.4/dpi`.
pub fn scan_diameter_mm(area_px: f64, dpi: f64) -> f64 {
    2.0 * (area_px / PI).sqrt() * MM_PER_INCH / dpi
}

/// Uncertainty of a diameter from counting pixels alone, in mm: `0.6765 p / (pi sqrt(r))`, p the
/// pixel and r the radius in pixels. Edge level, scale and repeats come on top.
pub fn lattice_uncertainty_mm(diameter_mm: f64, dpi: f64) -> f64 {
    let pixel = MM_PER_INCH / dpi;
    LATTICE * pixel / (PI * (diameter_mm / 2.0 / pixel).sqrt())
}

/// Circularity `4 pi A / P^2` of an ellipse with its exact perimeter: 1 for a circle, towards 0 for
/// a slit. The axes may come in either order; both positive.
pub fn ellipse_circularity(major_mm: f64, minor_mm: f64) -> f64 {
    let (a, b) = (major_mm.max(minor_mm) / 2.0, major_mm.min(minor_mm) / 2.0);
    4.0 * PI * PI * a * b / ellipse_perimeter(a, b).powi(2)
}

/// [`scan_diameter_mm`] with its working. The counting of pixels alone gives the least that it is uncertain by.
pub fn scan_diameter_working(area_px: f64, dpi: f64) -> Working {
    let mm = scan_diameter_mm(area_px, dpi);
    Working::of(
        "diameter in the scan",
        format!("{} mm", figures(mm, 3)),
        format!(
            "2 √(A / π) × 25.4 mm / dpi = 2 × √({} / π) × 25.4 mm / {} = {} mm",
            plain(area_px),
            plain(dpi),
            figures(mm, 3)
        ),
        "the disc with the same area; the inch is 25.4 mm exactly",
    )
    .within(format!(
        "± {} mm (one standard deviation) at the least, from counting pixels; edge level, scale and repeats come on top",
        scaled(lattice_uncertainty_mm(mm, dpi), 2)
    ))
}

/// [`lattice_uncertainty_mm`] with its working.
pub fn lattice_uncertainty_working(diameter_mm: f64, dpi: f64) -> Working {
    let (pixel, lattice) = (MM_PER_INCH / dpi, scaled(lattice_uncertainty_mm(diameter_mm, dpi), 3));
    Working::of(
        "uncertainty from counting pixels",
        format!("± {lattice} mm"),
        format!(
            "{LATTICE} p / (π √r) with p = 25.4 mm / {} = {p} mm, r = {} mm / (2 p) = {} pixels: {LATTICE} × {p} / (π √{}) = \
             {lattice} mm",
            plain(dpi),
            plain(diameter_mm),
            figures(diameter_mm / 2.0 / pixel, 3),
            figures(diameter_mm / 2.0 / pixel, 3),
            p = figures(pixel, 3),
        ),
        "pixels of a disc thrown at random on a grid: after Kendall, 1948 (from memory), the constant derived for this project \
         and checked by simulation",
    )
}

/// [`ellipse_circularity`] with its working.
pub fn ellipse_circularity_working(major_mm: f64, minor_mm: f64) -> Working {
    let (a, b) = (major_mm.max(minor_mm) / 2.0, major_mm.min(minor_mm) / 2.0);
    let circularity = figures(ellipse_circularity(major_mm, minor_mm), 4);
    Working::of(
        "circularity",
        circularity.clone(),
        format!(
            "4 π A / P² with A = π a b = π × {} × {} = {} mm² and P = {} mm: {circularity}",
            plain(a),
            plain(b),
            figures(PI * a * b, 4),
            figures(ellipse_perimeter(a, b), 4)
        ),
        "definition of circularity; the ellipse's perimeter by the arithmetic-geometric mean (Gauss)",
    )
}

/// Perimeter by the arithmetic-geometric mean (Gauss): exact to rounding in a handful of steps.
fn ellipse_perimeter(a: f64, b: f64) -> f64 {
    let (mut x, mut y, mut sum, mut weight) = (a, b, 0.0, 0.5);
    while (x - y).abs() > 1e-9 * x {
        sum += weight * (x * x - y * y);
        (x, y) = ((x + y) / 2.0, (x * y).sqrt());
        weight *= 2.0;
    }
    // With x and y equal, the rest of the sum is nothing.
    2.0 * PI * (a * a - sum) / x
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_circle_has_circularity_one_and_a_slit_next_to_none() {
        assert!((ellipse_circularity(0.4, 0.4) - 1.0).abs() < 1e-12);
        assert!(ellipse_circularity(1.0, 0.001) < 0.01);
        // 0.9815811 for axes 5 to 4, by the complete elliptic integral of the second kind.
        assert!((ellipse_circularity(0.45, 0.36) - 0.981_581_1).abs() < 1e-6);
        assert_eq!(ellipse_circularity(0.36, 0.45), ellipse_circularity(0.45, 0.36));
    }
}
