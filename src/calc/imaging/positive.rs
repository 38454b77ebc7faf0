//! The positive that a contact print will show: tones from the negative, left and right put right.
//!
//! The emulsion side lies on the scanner's glass, so the scan has left and right changed. A contact print, emulsion to
//! emulsion, changes them again.

use super::curve::PaperCurve;
use super::grid::Grid;

/// The positive of a rectangle of net densities (`from` to before `to`): 0 is black, 1 is white, as a print through
/// the same paper's range shows it.
pub fn positive(net: &Grid, [from, to]: [[usize; 2]; 2], curve: &PaperCurve) -> Grid {
    let (width, height) = (to[0] - from[0], to[1] - from[1]);
    // tones come from a table: the curve's logarithm for every pixel is slow
    const STEPS: f64 = 1000.0;
    let tones: Vec<f32> =
        (0..=(curve.d_max() * STEPS) as usize + 1).map(|d| curve.tone(d as f64 / STEPS) as f32).collect();
    let tone = |density: f32| tones[((density.max(0.0) * STEPS as f32 + 0.5) as usize).min(tones.len() - 1)];
    let mut values = Vec::with_capacity(width * height);
    for y in from[1]..to[1] {
        values.extend(net.row(y)[from[0]..to[0]].iter().rev().map(|density| tone(*density)));
    }
    Grid { width, height, values }
}

/// Means over a grid of 8 by 8 fields, rows from the top.
pub fn eight_by_eight(grid: &Grid) -> [[f64; 8]; 8] {
    let bounds = |part: usize, whole: usize| (part * whole / 8).min(whole.saturating_sub(1));
    std::array::from_fn(|row| {
        std::array::from_fn(|column| {
            let (y0, x0) = (bounds(row, grid.height), bounds(column, grid.width));
            let (y1, x1) = (((row + 1) * grid.height / 8).max(y0 + 1), ((column + 1) * grid.width / 8).max(x0 + 1));
            let sum: f64 = (y0..y1).map(|y| grid.row(y)[x0..x1].iter().map(|v| f64::from(*v)).sum::<f64>()).sum();
            sum / ((y1 - y0) * (x1 - x0)) as f64
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_print_is_the_mirror_image_and_lighter_where_the_negative_is_darker() {
        let net = Grid { width: 3, height: 1, values: vec![0.0, 0.6, 1.9] };
        let print = positive(&net, [[0, 0], [3, 1]], &PaperCurve::default());
        assert_eq!(print.values[2], 0.0);
        assert_eq!(print.values[0], 1.0);
        assert!((0.45..0.55).contains(&print.values[1]), "{}", print.values[1]);
    }

    #[test]
    fn eight_fields_hold_a_picture_of_any_size() {
        for (width, height) in [(8, 8), (1, 1), (17, 5), (100, 3)] {
            let means = eight_by_eight(&Grid::filled(width, height, 0.25));
            assert!(means.iter().flatten().all(|mean| (mean - 0.25).abs() < 1e-6), "{width} {height}");
        }
    }
}
