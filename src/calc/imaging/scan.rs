//! Diameter, its least uncertainty and the circularity of a hole seen in a scan.

use std::f64::consts::PI;

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
