//! Which part of a sheet is picture: inside the holder's edge, and inside the circle where a mount cuts it round.

use crate::calc::imaging::geometry::Point;
use crate::calc::imaging::grid::Grid;

use super::straight::Straight;

/// Above this net density a place has seen light.
const LIT: f32 = 0.07;
/// A line is the picture's first when so much of it has seen light.
const OF_A_LINE: f64 = 0.2;
/// The holder's edge lies at least this far from the sheet's, in mm.
const NEAREST_MM: f64 = 1.0;
/// It is looked for up to this share of the sheet.
const FURTHEST: f64 = 0.3;
/// A side this many times as deep as the narrowest (and a mm more) is clear picture, not border.
const CLEAR_PICTURE: f64 = 1.7;
/// The border of a sheet that shows none, as a share of its longer side (common practice, no source).
const USUAL_BORDER: f64 = 0.032;
/// A circle is believed when this share of the directions ends on it.
const ON_THE_CIRCLE: f64 = 0.3;
/// Light outside it may make up this share of all light.
const BEYOND: f64 = 0.05;

/// Outline of the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// As the holder is.
    Rectangle,
    /// Cut round by plate or mount; pixels of the straightened sheet.
    Circle {
        /// The middle.
        centre: Point,
        /// The radius.
        radius: f64,
    },
}

/// The part of a straightened sheet that is picture, in its pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PictureArea {
    /// First column and row.
    pub from: [usize; 2],
    /// Column and row after the last.
    pub to: [usize; 2],
    /// The outline.
    pub shape: Shape,
}

impl PictureArea {
    /// Whether a place is picture.
    pub fn holds(&self, x: usize, y: usize) -> bool {
        let inside = (self.from[0]..self.to[0]).contains(&x) && (self.from[1]..self.to[1]).contains(&y);
        inside
            && match self.shape {
                Shape::Rectangle => true,
                Shape::Circle { centre, radius } => (x as f64 - centre[0]).hypot(y as f64 - centre[1]) <= radius,
            }
    }

    /// The rectangle that a print shows: the picture's own, or the square round its circle.
    pub fn frame(&self, grid: &Grid) -> [[usize; 2]; 2] {
        match self.shape {
            Shape::Rectangle => [self.from, self.to],
            Shape::Circle { centre, radius } => {
                let from = [0, 1].map(|axis| (centre[axis] - radius).round().max(0.0) as usize);
                let ends = [grid.width, grid.height];
                let to = [0, 1].map(|axis| ((centre[axis] + radius).round() as usize + 1).min(ends[axis]));
                [from, to]
            }
        }
    }
}

/// Finds the picture in the net densities of a straightened sheet. `fogged` tells that the border has seen light too:
/// then the holder's edge is the strongest step.
pub fn picture_area(sheet: &Straight, net: &Grid, fogged: bool) -> PictureArea {
    let depths = border(sheet, net, fogged);
    let [left, top, right, bottom] = depths;
    let from = [left, top];
    let to = [net.width - right, net.height - bottom];
    let rectangle = PictureArea { from, to, shape: Shape::Rectangle };
    match circle(sheet, net, depths.into_iter().min().unwrap_or(0)) {
        Some((centre, radius)) if !fogged => {
            let depth = depths.into_iter().min().unwrap_or(0);
            let to = [net.width - depth, net.height - depth];
            PictureArea { from: [depth, depth], to, shape: Shape::Circle { centre, radius } }
        }
        _ => rectangle,
    }
}

/// Depth of the holder's edge on the left, top, right and bottom, in pixels.
pub(in crate::calc::imaging) fn border(sheet: &Straight, net: &Grid, fogged: bool) -> [usize; 4] {
    let usual = (net.width.max(net.height) as f64 * USUAL_BORDER).round() as usize;
    let found = [0, 1, 2, 3].map(|side| if fogged { step(sheet, net, side) } else { first_lit(sheet, net, side) });
    let narrowest = found.iter().flatten().copied().min().unwrap_or(usual);
    let most = (narrowest as f64 * CLEAR_PICTURE + sheet.px_per_mm).round() as usize;
    found.map(|depth| depth.filter(|depth| *depth <= most).unwrap_or(narrowest))
}

/// The line at a depth inside a side (0 left, 1 top, 2 right, 3 bottom), without its ends.
fn line<'a>(net: &'a Grid, side: usize, depth: usize, inset: usize) -> Box<dyn Iterator<Item = f32> + 'a> {
    let (width, height) = (net.width, net.height);
    match side {
        0 => Box::new((inset..height - inset).map(move |y| net.at(depth, y))),
        1 => Box::new((inset..width - inset).map(move |x| net.at(x, depth))),
        2 => Box::new((inset..height - inset).map(move |y| net.at(width - 1 - depth, y))),
        _ => Box::new((inset..width - inset).map(move |x| net.at(x, height - 1 - depth))),
    }
}

fn depths(sheet: &Straight, net: &Grid, side: usize) -> (std::ops::Range<usize>, usize) {
    let extent = if side.is_multiple_of(2) { net.width } else { net.height };
    let inset = net.width.min(net.height) / 10;
    (sheet.px(NEAREST_MM, 2)..(extent as f64 * FURTHEST) as usize, inset)
}

fn first_lit(sheet: &Straight, net: &Grid, side: usize) -> Option<usize> {
    let (mut depths, inset) = depths(sheet, net, side);
    depths.find(|depth| {
        let (mut lit, mut all) = (0, 0);
        for value in line(net, side, *depth, inset) {
            lit += usize::from(value > LIT);
            all += 1;
        }
        f64::from(lit as u32) >= OF_A_LINE * f64::from(all as u32)
    })
}

/// The strongest change from line to line, beyond the smooth fall of the fog.
fn step(sheet: &Straight, net: &Grid, side: usize) -> Option<usize> {
    let (depths, inset) = depths(sheet, net, side);
    let wide = sheet.px(0.4, 2);
    let furthest = depths.end.min(sheet.px(12.0, 20));
    let change = |depth: usize| {
        let (a, b) = (line(net, side, depth - wide, inset), line(net, side, depth + wide, inset));
        let away: Vec<f32> = a.zip(b).map(|(a, b)| (b - a).abs()).collect();
        f64::from(away.iter().sum::<f32>()) / away.len().max(1) as f64
    };
    let from = depths.start.max(wide) + wide;
    (from..furthest.saturating_sub(wide))
        .map(|depth| {
            // against its own neighbourhood: fog falls as steeply a mm further out and in
            let near = change(depth);
            let around = (change((depth - wide).max(wide)) + change(depth + wide)) / 2.0;
            (depth, near - around)
        })
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .filter(|(_, more)| *more > 0.01)
        .map(|(depth, _)| depth)
}

/// The circle that most directions end on, when hardly any light lies beyond it.
fn circle(sheet: &Straight, net: &Grid, depth: usize) -> Option<(Point, f64)> {
    let short = net.width.min(net.height) as f64;
    let middle = [net.width as f64 / 2.0, net.height as f64 / 2.0];
    const DIRECTIONS: usize = 240;
    let mut ends: Vec<Point> = Vec::new();
    for direction in 0..DIRECTIONS {
        let angle = direction as f64 * std::f64::consts::TAU / DIRECTIONS as f64;
        let (sin, cos) = angle.sin_cos();
        let furthest = (0..).map(|r| r as f64).take_while(|r| {
            let (x, y) = (middle[0] + r * cos, middle[1] + r * sin);
            let depth = depth as f64;
            x >= depth && y >= depth && x < net.width as f64 - depth && y < net.height as f64 - depth
        });
        let lit = |r: f64| net.between(middle[0] + r * cos, middle[1] + r * sin) > LIT;
        let radii: Vec<f64> = furthest.collect();
        // three in a row: a speck of dust is not the picture's end
        let last = (2..radii.len()).rev().find(|at| lit(radii[*at]) && lit(radii[at - 1]) && lit(radii[at - 2]));
        if let Some(at) = last {
            ends.push([middle[0] + radii[at] * cos, middle[1] + radii[at] * sin]);
        }
    }
    let near = (0.012 * short).max(1.5);
    let mut best: Option<(usize, Point, f64)> = None;
    for a in (0..ends.len()).step_by(4) {
        for apart in [20, 35, 50, 70] {
            let (b, c) = ((a + apart) % ends.len(), (a + 2 * apart) % ends.len());
            let Some((centre, radius)) = through(ends[a], ends[b], ends[c]) else { continue };
            let off = (centre[0] - middle[0]).hypot(centre[1] - middle[1]);
            if !(0.2 * short..0.62 * short).contains(&radius) || off > 0.2 * short {
                continue;
            }
            let on = ends
                .iter()
                .filter(|end| ((end[0] - centre[0]).hypot(end[1] - centre[1]) - radius).abs() < near)
                .count();
            if best.is_none_or(|(most, _, _)| on > most) {
                best = Some((on, centre, radius));
            }
        }
    }
    let (on, centre, radius) = best?;
    if (on as f64) < ON_THE_CIRCLE * DIRECTIONS as f64 {
        return None;
    }
    let (mut lit, mut beyond) = (0usize, 0usize);
    let margin = sheet.px(1.0, 2) as f64;
    for y in depth..net.height - depth {
        for x in depth..net.width - depth {
            if net.at(x, y) > LIT {
                lit += 1;
                beyond += usize::from((x as f64 - centre[0]).hypot(y as f64 - centre[1]) > radius + margin);
            }
        }
    }
    (lit > 0 && (beyond as f64) < BEYOND * lit as f64).then_some((centre, radius))
}

fn through(a: Point, b: Point, c: Point) -> Option<(Point, f64)> {
    let (bx, by, cx, cy) = (b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]);
    let d = 2.0 * (bx * cy - by * cx);
    if d.abs() < 1e-6 {
        return None;
    }
    let (bb, cc) = (bx * bx + by * by, cx * cx + cy * cy);
    let (x, y) = ((cy * bb - by * cc) / d, (bx * cc - cx * bb) / d);
    Some(([a[0] + x, a[1] + y], x.hypot(y)))
}
