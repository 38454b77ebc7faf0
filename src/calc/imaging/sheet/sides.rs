//! The straight sides of a sheet to a fraction of a pixel, and the corners where they meet.

use crate::calc::imaging::geometry::{Line, Point, distance, steady_line};
use crate::calc::imaging::grid::{Grid, median};

/// How far from a rough side its edge is looked for, in mm: twice widely, then closely.
const REACH_MM: [f64; 3] = [2.6, 2.6, 1.5];
/// A change of reflectance this large within three pixels is the edge itself.
const STRONG_STEP: f32 = 0.2;
/// Under a white lid the sheet's own edge lies this close behind the strongest step, its shadow's …
const SHADOW_MM: f64 = 1.1;
/// … and is at least this share of it.
const SHADOWED: f32 = 0.5;
/// A place that departs from the rim by this share of its reflectance is no longer the sheet.
const DEPARTS: f32 = 0.012;
/// Rounded corners and their shadows are left out: the share of a side that is looked at begins here.
const BEGINS: f64 = 0.07;

/// The corners of the sheet whose rough corners are given clockwise; clockwise from the top left.
pub fn corners(grid: &Grid, rough: [Point; 4], px_per_mm: f64) -> Option<[Point; 4]> {
    let mut corners = rough;
    for reach in REACH_MM {
        let lines: Option<Vec<Line>> = (0..4)
            .map(|side| line(grid, corners[side], corners[(side + 1) % 4], (reach * px_per_mm).max(5.0), px_per_mm))
            .collect();
        let lines = lines?;
        let mut met = [[0.0; 2]; 4];
        for (corner, place) in met.iter_mut().enumerate() {
            *place = lines[(corner + 3) % 4].meets(&lines[corner])?;
            if distance(*place, corners[corner]) > 4.0 * reach * px_per_mm + 12.0 {
                return None;
            }
        }
        corners = met;
    }
    let first =
        (0..4).min_by(|a, b| (corners[*a][0] + corners[*a][1]).total_cmp(&(corners[*b][0] + corners[*b][1])))?;
    corners.rotate_left(first);
    Some(corners)
}

/// The line of one side; `from` to `to` runs clockwise, so the sheet lies to its right (y down).
fn line(grid: &Grid, from: Point, to: Point, reach: f64, px_per_mm: f64) -> Option<Line> {
    let shadow = (SHADOW_MM * px_per_mm / STEP).round() as usize;
    let length = distance(from, to);
    let along = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
    let inward = [-along[1], along[0]];
    let count = ((length * (1.0 - 2.0 * BEGINS)) as usize).clamp(24, 160);
    let mut points = Vec::with_capacity(count);
    for place in 0..count {
        let at = length * (BEGINS + (1.0 - 2.0 * BEGINS) * (place as f64 + 0.5) / count as f64);
        let foot = [from[0] + along[0] * at, from[1] + along[1] * at];
        if let Some(depth) = edge(&profile(grid, foot, along, inward, reach), reach, shadow) {
            points.push([foot[0] + inward[0] * depth, foot[1] + inward[1] * depth]);
        }
    }
    if points.len() < count / 3 { None } else { steady_line(&points, 0.8) }
}

/// Steps of a profile, in pixels.
const STEP: f64 = 0.5;

/// Reflectance across the side, from outside to inside, each a mean over five pixels along it.
fn profile(grid: &Grid, foot: Point, along: [f64; 2], inward: [f64; 2], reach: f64) -> Vec<f32> {
    let steps = (2.0 * reach / STEP) as usize + 1;
    (0..steps)
        .map(|step| {
            let depth = step as f64 * STEP - reach;
            let beside = [-2.0, -1.0, 0.0, 1.0, 2.0].map(|beside| {
                let x = foot[0] + inward[0] * depth + along[0] * beside;
                let y = foot[1] + inward[1] * depth + along[1] * beside;
                grid.between(x, y)
            });
            beside.iter().sum::<f32>() / 5.0
        })
        .collect()
}

/// Depth of the edge in a profile: at the half level of the strongest step, or, where there is none (white paper under
/// a white lid), where the paper's rim is first departed from on the way out.
fn edge(profile: &[f32], reach: f64, shadow: usize) -> Option<f64> {
    strong(profile, shadow).or_else(|| departure(profile)).map(|place| place * STEP - reach)
}

fn strong(profile: &[f32], shadow: usize) -> Option<f64> {
    // three pixels
    const WIDE: usize = 6;
    let steps: Vec<f32> =
        (0..profile.len().checked_sub(WIDE)?).map(|at| (profile[at + WIDE] - profile[at]).abs()).collect();
    let strongest =
        (0..steps.len()).max_by(|a, b| steps[*a].total_cmp(&steps[*b])).filter(|at| steps[*at] > STRONG_STEP)?;
    // where the sheet throws a shadow the first step is the shadow's, and the sheet's own comes close behind
    let near = strongest + 1..(strongest + shadow + 1).min(steps.len() - 1);
    let mut own = near.filter(|at| {
        steps[*at] > SHADOWED * steps[strongest] && steps[*at] >= steps[at - 1] && steps[*at] >= steps[at + 1]
    });
    let at = own.next_back().unwrap_or(strongest);
    let outside = mean(&profile[at.saturating_sub(1)..=at]);
    let inside = mean(&profile[at + WIDE..(at + WIDE + 4).min(profile.len())]);
    crossing(profile, at, at + WIDE, (outside + inside) / 2.0)
}

fn departure(profile: &[f32]) -> Option<f64> {
    let count = profile.len();
    let mut rim: Vec<f32> = profile[count * 5 / 6..].to_vec();
    let rim = median(&mut rim);
    let away = |at: usize| profile[at] / rim - 1.0;
    let left = (1..count * 5 / 6).rev().find(|at| away(*at).abs() > DEPARTS && away(at - 1).abs() > DEPARTS)?;
    let sign = away(left).signum();
    // on the way out the change grows to its full height: the lid's, or the deepest shadow
    let mut peak = left;
    while peak > 0 && left - peak < 16 && sign * away(peak - 1) > sign * away(peak) {
        peak -= 1;
    }
    crossing(profile, peak, (left + 4).min(count - 1), rim * (1.0 + away(peak) / 2.0))
}

/// Where a profile crosses a level between two of its steps, nearest to the sheet.
fn crossing(profile: &[f32], from: usize, to: usize, level: f32) -> Option<f64> {
    (from..to).rev().find_map(|at| {
        let (a, b) = (profile[at], profile[at + 1]);
        ((a - level) * (b - level) <= 0.0 && a != b).then(|| at as f64 + f64::from((level - a) / (b - a)))
    })
}

fn mean(numbers: &[f32]) -> f32 {
    numbers.iter().sum::<f32>() / numbers.len().max(1) as f32
}
