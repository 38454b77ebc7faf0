//! A sheet laid straight: a grid whose rows run along its upper side.

use crate::calc::imaging::geometry::Point;
use crate::calc::imaging::grid::Grid;

use super::finding::{Outline, Sheets};

/// A straightened sheet.
#[derive(Clone, Debug)]
pub struct Straight {
    /// Reflectances, the median of nine, from corner to corner.
    pub grid: Grid,
    /// Pixels of this grid in a mm; the longer side counts as 100 mm where there is no resolution.
    pub px_per_mm: f64,
    outline: Outline,
}

impl Straight {
    /// Where in the picture a place of the straightened sheet lies, both in pixels.
    pub fn in_picture(&self, x: f64, y: f64) -> Point {
        let (u, v) = ((x + 0.5) / self.grid.width as f64, (y + 0.5) / self.grid.height as f64);
        at(&self.outline.corners, u, v)
    }

    /// So many mm in pixels, at least `least`.
    pub fn px(&self, mm: f64, least: usize) -> usize {
        ((mm * self.px_per_mm).round() as usize).max(least)
    }
}

/// Lays a sheet straight.
pub fn straight(sheets: &Sheets, outline: &Outline, dpi: Option<f64>) -> Straight {
    let corners = outline.corners.map(|corner| sheets.in_grid(corner));
    let inner = Outline { corners };
    let [across, down] = inner.size();
    let (width, height) = ((across.round() as usize).max(8), (down.round() as usize).max(8));
    let mut values = Vec::with_capacity(width * height);
    for y in 0..height {
        let v = (y as f64 + 0.5) / height as f64;
        // a row is a straight line in the picture: only its ends need the corners
        let (start, end) = (at(&corners, 0.0, v), at(&corners, 1.0, v));
        for x in 0..width {
            let u = (x as f64 + 0.5) / width as f64;
            values.push(sheets.grid.between(start[0] + u * (end[0] - start[0]), start[1] + u * (end[1] - start[1])));
        }
    }
    let px_per_mm = dpi.map_or(width.max(height) as f64 / 100.0, |dpi| dpi / 25.4 / sheets.by as f64);
    Straight { grid: Grid { width, height, values }.median_of_nine(), px_per_mm, outline: *outline }
}

fn at(corners: &[Point; 4], u: f64, v: f64) -> Point {
    [0, 1].map(|axis| {
        let above = corners[0][axis] * (1.0 - u) + corners[1][axis] * u;
        let below = corners[3][axis] * (1.0 - u) + corners[2][axis] * u;
        above * (1.0 - v) + below * v
    })
}
