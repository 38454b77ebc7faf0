//! The patches of a step strip.

use crate::calc::imaging::geometry::Point;
use crate::calc::imaging::grid::{Grid, median, quantile, scatter};
use crate::calc::imaging::sheet::Straight;

/// Which end of the strip, as it lies in the picture, was exposed most.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DarkEnd {
    /// The left end.
    Left,
    /// The right end.
    Right,
    /// The upper end.
    Top,
    /// The lower end.
    Bottom,
}

impl DarkEnd {
    /// The word that scripts see.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Top => "top",
            Self::Bottom => "bottom",
        }
    }
}

/// One patch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Patch {
    /// 1 for the least exposed.
    pub step: usize,
    /// Stops more than the first.
    pub stops: f64,
    /// Net density: the median of its middle.
    pub density: f64,
    /// One standard deviation.
    pub uncertainty: f64,
    /// Its middle, in pixels of the picture.
    pub centre: Point,
}

/// Uncertainty of a density from a scan: this much, and this share of it (assumed, no source).
const OF_DENSITY: [f64; 2] = [0.01, 0.01];
/// A border is dark picture's distance from the sheet's edge; one narrower than this is none, in mm.
const NO_BORDER_MM: f64 = 0.6;
/// A patch darker than this shows where the border ends.
const SHOWS: f32 = 0.15;
/// Two neighbours that differ by more than this make an edge that is seen.
const SEEN_EDGE: f64 = 0.06;

/// What was read along a strip.
#[derive(Clone, Debug, PartialEq)]
pub struct Patches {
    /// From least to most exposed.
    pub patches: Vec<Patch>,
    /// The end that was exposed most.
    pub dark_end: DarkEnd,
    /// Whether edges are seen where `steps` equal bands have none: there may be more or fewer of them.
    pub misfit: bool,
}

/// Reads `steps` equal bands along the longer side of a strip's net densities.
pub fn patches(sheet: &Straight, net: &Grid, steps: usize, stops_per_step: f64) -> Patches {
    let upright = net.height > net.width;
    let (long, short) = if upright { (net.height, net.width) } else { (net.width, net.height) };
    let at = |along: usize, across: usize| if upright { net.at(across, along) } else { net.at(along, across) };
    let inset = border(sheet, long, short, &at);
    let (first, last) = (inset, long - inset);
    let band = (last - first) as f64 / steps as f64;
    let (low, high) = (inset + (short - 2 * inset) / 4, short - inset - (short - 2 * inset) / 4);
    // medians across, so that a speck or a scratch along the strip is no step
    let profile: Vec<f32> = (0..long)
        .map(|along| median(&mut (low..high.max(low + 1)).map(|across| at(along, across)).collect::<Vec<_>>()))
        .collect();
    let mut read: Vec<(f64, f64, Point)> = (0..steps)
        .map(|step| {
            let from = first as f64 + (step as f64 + 0.25) * band;
            let (from, to) = (from as usize, ((from + 0.5 * band) as usize).min(long));
            let (from, to) = (from.min(to - 1), to);
            let mut numbers: Vec<f32> = (from..to)
                .flat_map(|along| (low..high.max(low + 1)).map(move |across| (along, across)))
                .map(|(a, b)| at(a, b))
                .collect();
            let density = f64::from(median(&mut numbers));
            let noise = f64::from(scatter(&mut numbers)) / (numbers.len() as f64).sqrt();
            let half = (from + to) / 2;
            let end = |range: std::ops::Range<usize>| {
                let mut numbers = profile[range].to_vec();
                f64::from(median(&mut numbers))
            };
            let drift = if half > from && to > half { end(from..half) - end(half..to) } else { 0.0 };
            let parts = [OF_DENSITY[0], OF_DENSITY[1] * density, drift / 2.0, noise];
            let middle = ((from + to) as f64 - 1.0) / 2.0;
            let across = (short as f64 - 1.0) / 2.0;
            let centre = if upright { sheet.in_picture(across, middle) } else { sheet.in_picture(middle, across) };
            (density, parts.iter().map(|part| part * part).sum::<f64>().sqrt(), centre)
        })
        .collect();
    let half = read.len() / 2;
    let sum = |part: &[(f64, f64, Point)]| part.iter().map(|patch| patch.0).sum::<f64>();
    let dark_first = sum(&read[..half]) > sum(&read[read.len() - half..]);
    if dark_first {
        read.reverse();
    }
    let dark_end = match (upright, dark_first) {
        (false, false) => DarkEnd::Right,
        (false, true) => DarkEnd::Left,
        (true, false) => DarkEnd::Bottom,
        (true, true) => DarkEnd::Top,
    };
    let misfit = misfit(&profile[first..last], band);
    let patches = read
        .into_iter()
        .enumerate()
        .map(|(step, (density, uncertainty, centre))| Patch {
            step: step + 1,
            stops: step as f64 * stops_per_step,
            density,
            uncertainty,
            centre,
        })
        .collect();
    Patches { patches, dark_end, misfit }
}

/// Width of the border, the same all round: how deep the dark part begins inside the long sides. No dark part, no
/// border that could be seen: then the whole strip is taken, and the middles of the bands lie within it all the same.
fn border(sheet: &Straight, long: usize, short: usize, at: &impl Fn(usize, usize) -> f32) -> usize {
    let mut depths = Vec::new();
    for along in (long / 20..long - long / 20).step_by((long / 200).max(1)) {
        let mut middle: Vec<f32> = (short * 2 / 5..short * 3 / 5 + 1).map(|across| at(along, across)).collect();
        let level = median(&mut middle);
        if level < SHOWS {
            continue;
        }
        for far in [false, true] {
            let side = |depth: usize| at(along, if far { short - 1 - depth } else { depth });
            if let Some(depth) =
                (0..short / 3).find(|depth| side(*depth) > 0.5 * level && side(depth + 1) > 0.5 * level)
            {
                depths.push(depth as f32);
            }
        }
    }
    if depths.len() < 20 {
        return sheet.px(4.0, 1).min(short / 8);
    }
    let depth = quantile(&mut depths, 0.5) as usize;
    if depth < sheet.px(NO_BORDER_MM, 1) { 0 } else { depth.min(short / 3) }
}

/// Whether the strip shows edges far from those of equal bands.
fn misfit(profile: &[f32], band: f64) -> bool {
    let wide = ((band / 8.0) as usize).clamp(2, 20);
    let change = |at: usize| f64::from((profile[at + wide] - profile[at - wide]).abs());
    let mut off = 0;
    let mut at = wide;
    while at + wide < profile.len() {
        let here = change(at);
        let peak = (at.saturating_sub(wide).max(wide)..(at + wide + 1).min(profile.len() - wide))
            .all(|near| change(near) <= here);
        if peak && here > SEEN_EDGE {
            let away = (at as f64 / band - (at as f64 / band).round()).abs();
            // bands may be an eighth uneven, and the ends belong to the border
            let end = (at as f64) < 0.4 * band || at as f64 > profile.len() as f64 - 0.4 * band;
            off += usize::from(away > 0.3 && !end);
            at += wide;
        }
        at += 1;
    }
    off >= 1
}
