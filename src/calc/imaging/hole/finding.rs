//! Where in a scan a hole may be: what differs from the plate by far more than it scatters.

use crate::calc::imaging::grid::{Raster, median, quantile, scatter};
use crate::calc::imaging::pieces::{Gatherer, Piece, Run};
use crate::calc::imaging::surface::{Degree, Surface};

/// Smaller than this across is dust, in mm.
pub const SMALLEST_MM: f64 = 0.08;
/// How many times its own scatter a pixel must be off the plate's level.
const SCATTERS: f64 = 6.0;
/// How far off the plate's level a pixel must be at the least, as a share of full scale.
const LEAST_STEP: f64 = 0.03;
/// A hole differs from the plate by at least this share of full scale.
const LEAST_CONTRAST: f64 = 0.06;
/// What differs by less than this share of the strongest find is dust or a stain.
const BESIDE_THE_STRONGEST: f64 = 0.6;
/// More runs than these are noise, not holes.
const MOST_RUNS: usize = 400_000;

/// What was found in the whole picture.
#[derive(Clone, Debug)]
pub struct Candidates {
    /// Places that may be holes, the largest first; those that the picture's edge cuts are not among them.
    pub whole: Vec<Candidate>,
    /// Whether the picture's edge cuts something large enough.
    pub cut: bool,
    /// The level of the plate.
    pub plate: Surface,
}

/// A place that may be a hole.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// Left, top, right, bottom; all four inside.
    pub bounds: [usize; 4],
    /// How far its level is from the plate's, with its sign: light holes are above.
    pub contrast: f64,
}

/// Finds the places in which the picture leaves the level of its frame. `pixel_mm` is the length of one pixel.
pub fn candidates(raster: &Raster, pixel_mm: f64) -> Candidates {
    let plate = plate(raster);
    let noise = noise(raster, &plate);
    let least_area = (std::f64::consts::PI / 4.0 * (SMALLEST_MM / pixel_mm).powi(2) * 0.7).max(9.0) as usize;
    let mut step = (SCATTERS * noise).max(LEAST_STEP);
    let mut found: Vec<(Piece, f64)> = Vec::new();
    for above in [true, false] {
        let mut gathered = gathered(raster, &plate, step, above);
        while gathered.is_none() && step < 1.0 {
            step *= 1.5;
            gathered = self::gathered(raster, &plate, step, above);
        }
        for piece in gathered.unwrap_or_default().pieces(least_area) {
            let contrast = contrast(raster, &plate, &piece);
            found.push((piece, contrast));
        }
    }
    let strongest = found.iter().map(|(_, contrast)| contrast.abs()).fold(0.0, f64::max);
    let least = (BESIDE_THE_STRONGEST * strongest).max(LEAST_CONTRAST);
    found.retain(|(_, contrast)| contrast.abs() >= least);
    // a plate has holes of one kind: those of the sign of the largest strong piece
    if let Some(light) = found.iter().max_by_key(|(piece, _)| piece.area).map(|(_, contrast)| *contrast > 0.0) {
        found.retain(|(_, contrast)| (*contrast > 0.0) == light);
    }
    found.sort_by_key(|(piece, _)| std::cmp::Reverse(piece.area));
    let cut = found.iter().any(|(piece, _)| piece.is_cut(raster.width(), raster.height()));
    let whole = found
        .into_iter()
        .filter(|(piece, _)| !piece.is_cut(raster.width(), raster.height()))
        .map(|(piece, contrast)| Candidate { bounds: piece.bounds, contrast })
        .take(64)
        .collect();
    Candidates { whole, cut, plate }
}

/// The level of the plate: a bowl through the medians of tiles, begun at the level of the picture's frame.
fn plate(raster: &Raster) -> Surface {
    let (width, height) = (raster.width(), raster.height());
    let tile = (width.max(height) / 40).max(4);
    let (across, down) = (width.div_ceil(tile), height.div_ceil(tile));
    let (mut samples, mut frame, mut numbers, mut row) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let stride = (tile / 12).max(1);
    for j in 0..down {
        for i in 0..across {
            let (x, y) = (i * tile, j * tile);
            let (to_x, to_y) = ((x + tile).min(width), (y + tile).min(height));
            numbers.clear();
            for line in (y..to_y).step_by(stride) {
                raster.row(line, x, to_x, &mut row);
                numbers.extend(row.iter().step_by(stride));
            }
            let level = f64::from(median(&mut numbers));
            samples.push([(x + to_x - 1) as f64 / 2.0, (y + to_y - 1) as f64 / 2.0, level]);
            if i == 0 || j == 0 || i + 1 == across || j + 1 == down {
                frame.push(samples.len() - 1);
            }
        }
    }
    let frame: Vec<[f64; 3]> = frame.into_iter().map(|place| samples[place]).collect();
    let mut levels: Vec<f32> = frame.iter().map(|sample| sample[2] as f32).collect();
    let start = Surface::level(f64::from(median(&mut levels)));
    let start = Surface::steady(&frame, Degree::Plane, &start, 0.01);
    Surface::steady(&samples, Degree::Bowl, &start, 0.01)
}

/// How far pixels scatter about the plate's level.
fn noise(raster: &Raster, plate: &Surface) -> f64 {
    let step = ((raster.width() * raster.height() / 100_000) as f64).sqrt().ceil().max(1.0) as usize;
    let mut away = Vec::new();
    for y in (0..raster.height()).step_by(step) {
        for x in (0..raster.width()).step_by(step) {
            away.push(raster.at(x, y) - plate.at(x as f64, y as f64) as f32);
        }
    }
    f64::from(scatter(&mut away))
}

/// Runs of pixels that are `step` above (or below) the plate; `None` for too many of them.
fn gathered(raster: &Raster, plate: &Surface, step: f64, above: bool) -> Option<Gatherer> {
    const BLOCK: usize = 128;
    let mut gatherer = Gatherer::default();
    let mut row = Vec::new();
    for y in 0..raster.height() {
        let mut open: Option<usize> = None;
        for from in (0..raster.width()).step_by(BLOCK) {
            let to = (from + BLOCK).min(raster.width());
            let levels = [from, (from + to) / 2, to].map(|x| plate.at(x as f64, y as f64));
            let (low, high) = levels.iter().fold((f64::MAX, f64::MIN), |(low, high), l| (low.min(*l), high.max(*l)));
            // within these codes nothing can be a step off, anywhere in the block
            let (least, most) = if above {
                raster.codes_within(-1.0, (low + step) as f32)
            } else {
                raster.codes_within((high - step) as f32, 2.0)
            };
            if !raster.leaves(y, from, to, least, most) {
                close(&mut gatherer, &mut open, y, from);
                continue;
            }
            raster.row(y, from, to, &mut row);
            for (offset, value) in row.iter().enumerate() {
                let away = f64::from(*value) - plate.at((from + offset) as f64, y as f64);
                let off = if above { away > step } else { away < -step };
                if off {
                    open.get_or_insert(from + offset);
                } else {
                    close(&mut gatherer, &mut open, y, from + offset);
                }
            }
        }
        close(&mut gatherer, &mut open, y, raster.width());
        if gatherer.len() > MOST_RUNS {
            return None;
        }
    }
    Some(gatherer)
}

fn close(gatherer: &mut Gatherer, open: &mut Option<usize>, y: usize, to: usize) {
    if let Some(from) = open.take() {
        gatherer.add(Run { y: y as u32, from: from as u32, to: to as u32 });
    }
}

/// How far the middle of a piece is off the plate: the upper quarter of its pixels.
fn contrast(raster: &Raster, plate: &Surface, piece: &Piece) -> f64 {
    let stride = (piece.area / 20_000).max(1);
    let mut away = Vec::new();
    let mut count = 0;
    for run in &piece.runs {
        for x in run.from as usize..run.to as usize {
            if count % stride == 0 {
                away.push((f64::from(raster.at(x, run.y as usize)) - plate.at(x as f64, f64::from(run.y))) as f32);
            }
            count += 1;
        }
    }
    let light = f64::from(median(&mut away)) > 0.0;
    f64::from(quantile(&mut away, if light { 0.75 } else { 0.25 }))
}
