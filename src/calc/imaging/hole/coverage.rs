//! How much of each pixel round a hole belongs to the hole.

use crate::calc::imaging::grid::{Grid, median, scatter};
use crate::calc::imaging::pieces::{Piece, pieces};
use crate::calc::imaging::surface::{Degree, Surface};

/// A window round one hole, as shares: 0 on the plate, 1 in the hole, between them on the edge.
#[derive(Clone, Debug)]
pub struct Coverage {
    /// The shares, noise and all, in the edge's band; 0 and 1 outside it.
    pub shares: Grid,
    /// Blur of the edge as the standard deviation of a Gaussian, in pixels, the pixel itself included.
    pub blur_px: f64,
    /// Scatter of the plate as a share of the contrast.
    pub noise: f64,
    /// Pixels in the edge's band.
    pub band: usize,
    /// Levels of the plate and of the hole.
    pub levels: [Surface; 2],
}

/// Works out the shares in `window`. `start` is the plate's level in the window's own places, `contrast` how far
/// the hole's level is from it. `None` when nothing at the half level is left.
pub fn coverage(window: &Grid, start: &Surface, contrast: f64) -> Option<Coverage> {
    let mut plate = *start;
    let mut hole = None;
    let (mut blur, mut noise) = (0.8, 0.0);
    let mut shares = window.clone();
    let mut away = Grid::filled(window.width, window.height, 0.0);
    for _ in 0..3 {
        let of = |x: usize, y: usize| {
            let low = plate.at(x as f64, y as f64);
            let span = hole.map_or(contrast, |hole: Surface| hole.at(x as f64, y as f64) - low);
            ((f64::from(window.at(x, y)) - low) / span) as f32
        };
        for y in 0..window.height {
            for x in 0..window.width {
                shares.values[y * window.width + x] = of(x, y);
            }
        }
        away = distances(&mask(&shares)?);
        blur = edge_blur(&shares, &away);
        let deepest = away.values.iter().copied().fold(0.0, f32::max);
        let outer = (2.5 * blur + 1.0).max(3.0) as f32;
        let inner = outer.min(0.65 * deepest);
        let samples = |belongs: &dyn Fn(f32) -> bool| -> Vec<[f64; 3]> {
            let places = away.values.iter().enumerate().filter(|(_, away)| belongs(**away));
            let all: Vec<[f64; 3]> = places
                .map(|(at, _)| [(at % window.width) as f64, (at / window.width) as f64, f64::from(window.values[at])])
                .collect();
            let stride = (all.len() / 20_000).max(1);
            all.into_iter().step_by(stride).collect()
        };
        let ring = samples(&|away| away < -outer && away > -(outer + 6.0 + 0.3 * deepest));
        let inside = samples(&|away| away > inner);
        plate = level(&ring, Degree::Plane, contrast.abs());
        let degree = if inside.len() > 150 { Degree::Plane } else { Degree::Level };
        hole = Some(level(&inside, degree, contrast.abs()));
        let mut rest: Vec<f32> = ring.iter().map(|[x, y, value]| (value - plate.at(*x, *y)) as f32).collect();
        noise = f64::from(scatter(&mut rest)) / contrast.abs();
    }
    let deepest = away.values.iter().copied().fold(0.0, f32::max);
    let outer = (2.5 * blur + 1.0).max(3.0) as f32;
    let inner = outer.min(0.65 * deepest);
    let hole = hole?;
    let mut band = 0;
    for (at, away) in away.values.iter().enumerate() {
        let (x, y) = ((at % window.width) as f64, (at / window.width) as f64);
        shares.values[at] = if *away > inner {
            1.0
        } else if *away < -outer {
            0.0
        } else {
            band += 1;
            let low = plate.at(x, y);
            ((f64::from(window.values[at]) - low) / (hole.at(x, y) - low)) as f32
        };
    }
    Some(Coverage { shares, blur_px: blur, noise, band, levels: [plate, hole] })
}

fn level(samples: &[[f64; 3]], degree: Degree, contrast: f64) -> Surface {
    let mut levels: Vec<f32> = samples.iter().map(|sample| sample[2] as f32).collect();
    let start = Surface::level(f64::from(median(&mut levels)));
    Surface::steady(samples, degree, &start, 0.01 * contrast)
}

/// The largest piece above one half, its own holes filled, as 1 and 0.
pub fn mask(shares: &Grid) -> Option<Grid> {
    let found = pieces(shares.width, shares.height, 4, |x, y| shares.at(x, y) > 0.5);
    let mut mask = Grid::filled(shares.width, shares.height, 0.0);
    paint(&mut mask, found.first()?, 1.0);
    let outside = pieces(shares.width, shares.height, 1, |x, y| mask.at(x, y) == 0.0);
    for hole in outside.iter().filter(|piece| !piece.is_cut(shares.width, shares.height)) {
        paint(&mut mask, hole, 1.0);
    }
    Some(mask)
}

fn paint(grid: &mut Grid, piece: &Piece, value: f32) {
    for run in &piece.runs {
        let start = run.y as usize * grid.width;
        grid.values[start + run.from as usize..start + run.to as usize].fill(value);
    }
}

/// Distance of each pixel from the other kind, positive inside; steps of one and of the square root of two.
fn distances(mask: &Grid) -> Grid {
    let far = (mask.width + mask.height) as f32;
    let to = |kind: f32| {
        let mut grid = mask.map(|value| if value == kind { 0.0 } else { far });
        let (width, height) = (grid.width as isize, grid.height as isize);
        let mut pass = |x: isize, y: isize, steps: [(isize, isize); 4]| {
            let mut best = grid.values[(y * width + x) as usize];
            for (dx, dy) in steps {
                let (u, v) = (x + dx, y + dy);
                if u >= 0 && v >= 0 && u < width && v < height {
                    let step = if dx != 0 && dy != 0 { std::f32::consts::SQRT_2 } else { 1.0 };
                    best = best.min(grid.values[(v * width + u) as usize] + step);
                }
            }
            grid.values[(y * width + x) as usize] = best;
        };
        for y in 0..height {
            for x in 0..width {
                pass(x, y, [(-1, 0), (-1, -1), (0, -1), (1, -1)]);
            }
        }
        for y in (0..height).rev() {
            for x in (0..width).rev() {
                pass(x, y, [(1, 0), (1, 1), (0, 1), (-1, 1)]);
            }
        }
        grid
    };
    let (to_plate, to_hole) = (to(0.0), to(1.0));
    let values = to_plate.values.iter().zip(&to_hole.values).map(|(inside, outside)| inside - outside).collect();
    Grid { width: mask.width, height: mask.height, values }
}

/// Blur from the steepness at the half level: a Gaussian edge has the slope `1 / (s sqrt(2 pi))` there.
fn edge_blur(shares: &Grid, away: &Grid) -> f64 {
    let mut slopes = Vec::new();
    for y in 1..shares.height.saturating_sub(1) {
        for x in 1..shares.width.saturating_sub(1) {
            if away.at(x, y).abs() < 1.6 && (shares.at(x, y) - 0.5).abs() < 0.3 {
                let dx = (shares.at(x + 1, y) - shares.at(x - 1, y)) / 2.0;
                let dy = (shares.at(x, y + 1) - shares.at(x, y - 1)) / 2.0;
                slopes.push(dx.hypot(dy));
            }
        }
    }
    let slope = f64::from(median(&mut slopes));
    if slope.is_finite() && slope > 0.0 {
        // differences over two pixels widen the edge by a third of a square pixel
        let wide = 1.0 / (slope * (2.0 * std::f64::consts::PI).sqrt());
        (wide * wide - 1.0 / 3.0).max(1.0 / 12.0).sqrt()
    } else {
        1.0
    }
}
