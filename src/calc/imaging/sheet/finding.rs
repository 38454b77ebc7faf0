//! Where in a scan a sheet lies: what differs in density from the scanner's lid and has the outline of a rectangle.

use crate::calc::imaging::geometry::{Point, area, distance, hull, smallest_rectangle};
use crate::calc::imaging::grid::{Grid, Raster, median, scatter};
use crate::calc::imaging::pieces::pieces;
use crate::calc::imaging::surface::{Degree, Surface};
use crate::calc::imaging::transfer::density;

use super::sides::corners;

/// The longer side of the grid on which sheets are looked for, in pixels.
const LONGEST: usize = 1600;
/// Smaller than this share of the picture is no sheet.
const LEAST_SHARE: f64 = 0.03;
/// A sheet fills at least this share of the smallest rectangle round it.
const FILLS: f64 = 0.86;
/// The least difference in density between lid and sheet.
const LEAST_STEP: f64 = 0.014;
/// A lid darker than this is dark …
const DARK_LID: f64 = 0.5;
/// … and lighter by this share of its density where the sheet's light is spread onto it.
const SPREAD: f64 = 0.15;
/// The frame must show the lid on at least this share of its length.
const LID_ON_FRAME: f64 = 0.3;

/// A sheet's outline in pixels of the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outline {
    /// Clockwise from the top left: straight sides prolonged, rounding ignored.
    pub corners: [Point; 4],
}

impl Outline {
    /// Mean length of the upper and lower side and of the left and right side, in pixels.
    pub fn size(&self) -> [f64; 2] {
        let [a, b, c, d] = self.corners;
        [(distance(a, b) + distance(d, c)) / 2.0, (distance(a, d) + distance(b, c)) / 2.0]
    }

    /// How far it is turned clockwise, in degrees.
    pub fn angle_deg(&self) -> f64 {
        let [a, b, c, d] = self.corners;
        (b[1] - a[1] + c[1] - d[1]).atan2(b[0] - a[0] + c[0] - d[0]).to_degrees()
    }
}

/// What was found on the scanner's glass.
#[derive(Clone, Debug)]
pub struct Sheets {
    /// Whole sheets, from left to right.
    pub whole: Vec<Outline>,
    /// Whether the picture's edge cuts something large.
    pub cut: bool,
    /// The reflectances on which it was found, means of `by` by `by` pixels.
    pub grid: Grid,
    /// How many pixels of the picture one of the grid is across.
    pub by: usize,
}

impl Sheets {
    /// A place of the picture in the grid.
    pub fn in_grid(&self, point: Point) -> Point {
        let half = (self.by as f64 - 1.0) / 2.0;
        point.map(|at| (at - half) / self.by as f64)
    }
}

/// Finds the sheets of a scan. `dpi` is the resolution, when there is one; `flare` the share of surrounding
/// light to be taken off.
pub fn sheets(raster: &Raster, dpi: Option<f64>, flare: f64) -> Sheets {
    let by = raster.width().max(raster.height()).div_ceil(LONGEST);
    let grid = without_flare(raster.reduced(by), flare);
    let mut found = Sheets { whole: Vec::new(), cut: false, grid, by };
    let (width, height) = (found.grid.width, found.grid.height);
    if width < 24 || height < 24 {
        return found;
    }
    let densities = found.grid.median_of_nine().map(density);
    let Some(lid) = lid(&densities) else { return found };
    let away = |x: usize, y: usize| f64::from(densities.at(x, y)) - lid.level.at(x as f64, y as f64);
    let mut differs = vec![false; width * height];
    for y in 0..height {
        for x in 0..width {
            differs[y * width + x] = away(x, y).abs() > lid.step;
        }
    }
    let differs = opened(&differs, width, height, 2);
    let least = LEAST_SHARE * (width * height) as f64;
    let mut hulls: Vec<Vec<Point>> = Vec::new();
    for piece in pieces(width, height, 200, |x, y| differs[y * width + x]) {
        let ends = piece
            .runs
            .iter()
            .flat_map(|run| [[f64::from(run.from), f64::from(run.y)], [f64::from(run.to) - 1.0, f64::from(run.y)]]);
        let outline = hull(ends.collect());
        let size = area(&outline);
        if piece.is_cut(width, height) {
            found.cut |= size > least / 3.0;
        } else if size > least && hulls.iter().all(|larger| !holds(larger, middle(&outline))) {
            hulls.push(outline);
        }
    }
    for outline in hulls {
        let Some((rectangle, size)) = smallest_rectangle(&outline) else { continue };
        if area(&outline) < FILLS * size {
            continue;
        }
        let long = distance(rectangle[0], rectangle[1]).max(distance(rectangle[1], rectangle[2]));
        let px_per_mm = dpi.map_or(long / 100.0, |dpi| dpi / 25.4 / by as f64);
        if let Some(corners) = corners(&found.grid, rectangle, px_per_mm) {
            let half = (by as f64 - 1.0) / 2.0;
            found.whole.push(Outline { corners: corners.map(|point| point.map(|at| at * by as f64 + half)) });
        }
    }
    found.whole.sort_by(|a, b| middle(&a.corners)[0].total_cmp(&middle(&b.corners)[0]));
    found
}

/// Takes a share of the mean light off every place: `R = (seen - share x mean) / (1 - share)`.
fn without_flare(grid: Grid, share: f64) -> Grid {
    if share <= 0.0 {
        return grid;
    }
    let mean = grid.values.iter().map(|value| f64::from(*value)).sum::<f64>() / grid.values.len() as f64;
    grid.map(|seen| ((f64::from(seen) - share * mean) / (1.0 - share)).max(0.0) as f32)
}

struct Lid {
    level: Surface,
    step: f64,
}

/// The lid is the commoner density on the picture's frame.
fn lid(densities: &Grid) -> Option<Lid> {
    let (width, height) = (densities.width, densities.height);
    let deep = (width.min(height) / 60).clamp(2, 12);
    let mut frame: Vec<[f64; 3]> = Vec::new();
    for y in 0..height {
        for x in 0..width {
            if x < deep || y < deep || x + deep >= width || y + deep >= height {
                frame.push([x as f64, y as f64, f64::from(densities.at(x, y))]);
            }
        }
    }
    let mut counts = [0u32; 420];
    for sample in &frame {
        counts[((sample[2] * 100.0) as usize).min(419)] += 1;
    }
    let near = |bin: usize| counts[bin.saturating_sub(3)..(bin + 4).min(420)].iter().sum::<u32>();
    let commonest = (0..420).max_by_key(|bin| (near(*bin), counts[*bin]))?;
    if f64::from(near(commonest)) < LID_ON_FRAME * frame.len() as f64 {
        return None;
    }
    let start = (commonest as f64 + 0.5) / 100.0;
    frame.retain(|sample| (sample[2] - start).abs() < 0.1);
    let mut levels: Vec<f32> = frame.iter().map(|sample| sample[2] as f32).collect();
    let start = Surface::level(f64::from(median(&mut levels)));
    let stride = (frame.len() / 5000).max(1);
    let few: Vec<[f64; 3]> = frame.iter().step_by(stride).copied().collect();
    let level = Surface::steady(&few, Degree::Plane, &start, 0.003);
    let mut rest: Vec<f32> = frame.iter().map(|[x, y, d]| (d - level.at(*x, *y)) as f32).collect();
    // the glass spreads light from the sheet on a dark lid beside it
    let spread = if start.at(0.0, 0.0) > DARK_LID { SPREAD * start.at(0.0, 0.0) } else { 0.0 };
    Some(Lid { level, step: (5.0 * f64::from(scatter(&mut rest))).max(LEAST_STEP).max(spread) })
}

/// Takes away what is narrower than `2 reach + 1` pixels, so that a hair does not widen a sheet.
fn opened(mask: &[bool], width: usize, height: usize, reach: usize) -> Vec<bool> {
    let pass = |mask: &[bool], kind: bool| -> Vec<bool> {
        // a place becomes `kind` when any place within reach is: first along rows, then along columns
        let mut along = vec![!kind; mask.len()];
        for y in 0..height {
            let row = &mask[y * width..(y + 1) * width];
            let mut last: Option<usize> = None;
            for x in 0..width + reach {
                if x < width && row[x] == kind {
                    last = Some(x);
                }
                if x >= reach && last.is_some_and(|last| last + 2 * reach >= x) {
                    along[y * width + x - reach] = kind;
                }
            }
        }
        let mut out = vec![!kind; mask.len()];
        let mut last: Vec<Option<usize>> = vec![None; width];
        for y in 0..height + reach {
            for x in 0..width {
                if y < height && along[y * width + x] == kind {
                    last[x] = Some(y);
                }
                if y >= reach && last[x].is_some_and(|last| last + 2 * reach >= y) {
                    out[(y - reach) * width + x] = kind;
                }
            }
        }
        out
    };
    pass(&pass(mask, false), true)
}

fn middle(points: &[Point]) -> Point {
    let count = points.len().max(1) as f64;
    [0, 1].map(|axis| points.iter().map(|point| point[axis]).sum::<f64>() / count)
}

/// Whether a clockwise outline holds a place.
fn holds(outline: &[Point], place: Point) -> bool {
    let next = outline.iter().cycle().skip(1);
    outline.iter().zip(next).all(|(a, b)| (b[0] - a[0]) * (place[1] - a[1]) - (b[1] - a[1]) * (place[0] - a[0]) >= 0.0)
}
