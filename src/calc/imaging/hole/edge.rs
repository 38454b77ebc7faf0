//! The edge of a hole as a line at the half level, to a fraction of a pixel.

use crate::calc::imaging::geometry::{Point, distance};
use crate::calc::imaging::grid::Grid;

use super::coverage::mask;

/// The line at the half level round one hole.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// Pieces of the line, one for each cell that it crosses, in no order.
    pub pieces: Vec<[Point; 2]>,
    /// Its length in pixels.
    pub length_px: f64,
}

/// Follows the half level cell by cell, between the pixels' centres (marching squares). Only the main piece counts:
/// what is lost or won beside it is put to its own side of the half first.
pub fn contour(shares: &Grid) -> Option<Contour> {
    let mask = mask(shares)?;
    let sided = |x: usize, y: usize| {
        let share = f64::from(shares.at(x, y));
        if mask.at(x, y) > 0.5 { share.max(0.501) } else { share.min(0.499) }
    };
    let mut pieces = Vec::new();
    for y in 0..shares.height.saturating_sub(1) {
        for x in 0..shares.width.saturating_sub(1) {
            let corners = [(x, y), (x + 1, y), (x + 1, y + 1), (x, y + 1)];
            let shares = corners.map(|(x, y)| sided(x, y));
            let mut crossings: Vec<Point> = Vec::with_capacity(4);
            for side in 0..4 {
                let (a, b) = (shares[side], shares[(side + 1) % 4]);
                if (a > 0.5) != (b > 0.5) {
                    let along = (0.5 - a) / (b - a);
                    let (from, to) = (corners[side], corners[(side + 1) % 4]);
                    let between = |from: usize, to: usize| from as f64 + along * (to as f64 - from as f64);
                    crossings.push([between(from.0, to.0), between(from.1, to.1)]);
                }
            }
            match crossings[..] {
                [a, b] => pieces.push([a, b]),
                [a, b, c, d] => {
                    // a saddle: the two corners above one half hang together when the middle is above it
                    let together = shares.iter().sum::<f64>() / 4.0 > 0.5;
                    if (shares[0] > 0.5) == together {
                        pieces.extend([[a, b], [c, d]]);
                    } else {
                        pieces.extend([[d, a], [b, c]]);
                    }
                }
                _ => {}
            }
        }
    }
    let length_px = pieces.iter().map(|[a, b]| distance(*a, *b)).sum();
    Some(Contour { pieces, length_px })
}

/// The same shares, each mixed with its neighbours by a Gaussian of `sigma` pixels.
pub fn smoothed(shares: &Grid, sigma: f64) -> Grid {
    let reach = (3.0 * sigma).ceil() as isize;
    let kernel: Vec<f32> = (-reach..=reach).map(|d| (-0.5 * (d as f64 / sigma).powi(2)).exp() as f32).collect();
    let total: f32 = kernel.iter().sum();
    let along = |grid: &Grid, dx: isize, dy: isize| {
        let mut out = grid.clone();
        for y in 0..grid.height as isize {
            for x in 0..grid.width as isize {
                let sum: f32 = (-reach..=reach)
                    .zip(&kernel)
                    .map(|(d, weight)| {
                        let u = (x + d * dx).clamp(0, grid.width as isize - 1) as usize;
                        let v = (y + d * dy).clamp(0, grid.height as isize - 1) as usize;
                        weight * grid.at(u, v)
                    })
                    .sum();
                out.values[y as usize * grid.width + x as usize] = sum / total;
            }
        }
        out
    };
    along(&along(shares, 1, 0), 0, 1)
}
