//! Points, lines and hulls of what was found in a picture.

/// A place in a picture, in pixels: x to the right, y down.
pub type Point = [f64; 2];

/// Distance between two places.
pub fn distance(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// The smallest convex outline, clockwise as one sees it (y down), by the monotone chain (Andrew, 1979, from memory).
pub fn hull(mut points: Vec<Point>) -> Vec<Point> {
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let half = |points: &mut dyn Iterator<Item = Point>| {
        let mut line: Vec<Point> = Vec::new();
        for point in points {
            while line.len() >= 2 && turn(line[line.len() - 2], line[line.len() - 1], point) <= 0.0 {
                line.pop();
            }
            line.push(point);
        }
        line.pop();
        line
    };
    let mut outline = half(&mut points.iter().copied());
    outline.extend(half(&mut points.iter().rev().copied()));
    outline
}

fn turn(a: Point, b: Point, c: Point) -> f64 {
    (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
}

/// Area of an outline.
pub fn area(outline: &[Point]) -> f64 {
    let next = outline.iter().cycle().skip(1);
    outline.iter().zip(next).map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum::<f64>().abs() / 2.0
}

/// The smallest rectangle round a hull: its four corners clockwise as one sees it, and its area. One
/// of its sides lies along a side of the hull (Freeman and Shapira, 1975, from memory).
pub fn smallest_rectangle(hull: &[Point]) -> Option<([Point; 4], f64)> {
    let next = hull.iter().cycle().skip(1);
    let mut best: Option<([Point; 4], f64)> = None;
    for (a, b) in hull.iter().zip(next) {
        let length = distance(*a, *b);
        if length < 1e-9 {
            continue;
        }
        let along = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
        let across = [-along[1], along[0]];
        let (mut low, mut high) = ([f64::MAX; 2], [f64::MIN; 2]);
        for point in hull {
            for (axis, direction) in [along, across].iter().enumerate() {
                let place = point[0] * direction[0] + point[1] * direction[1];
                low[axis] = low[axis].min(place);
                high[axis] = high[axis].max(place);
            }
        }
        let size = (high[0] - low[0]) * (high[1] - low[1]);
        if best.as_ref().is_none_or(|(_, least)| size < *least) {
            let corner = |u: f64, v: f64| [u * along[0] + v * across[0], u * along[1] + v * across[1]];
            let corners =
                [corner(low[0], low[1]), corner(high[0], low[1]), corner(high[0], high[1]), corner(low[0], high[1])];
            best = Some((corners, size));
        }
    }
    best
}

/// A straight line: the places where `normal . place = offset`, the normal of length one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// Across the line.
    pub normal: [f64; 2],
    /// How far the line is from 0, 0 along the normal.
    pub offset: f64,
}

impl Line {
    /// How far a place is from the line, along the normal.
    pub fn away(&self, point: Point) -> f64 {
        self.normal[0] * point[0] + self.normal[1] * point[1] - self.offset
    }

    /// Where two lines meet; `None` when they run side by side.
    pub fn meets(&self, other: &Self) -> Option<Point> {
        let by = self.normal[0] * other.normal[1] - self.normal[1] * other.normal[0];
        (by.abs() > 1e-9).then(|| {
            [
                (self.offset * other.normal[1] - other.offset * self.normal[1]) / by,
                (self.normal[0] * other.offset - other.normal[0] * self.offset) / by,
            ]
        })
    }

    /// The line through weighted points by least squares of the distance; `None` for fewer than two places.
    pub fn through(points: &[(Point, f64)]) -> Option<Self> {
        let total: f64 = points.iter().map(|(_, weight)| weight).sum();
        if total <= 0.0 {
            return None;
        }
        let mean = |axis: usize| points.iter().map(|(point, weight)| weight * point[axis]).sum::<f64>() / total;
        let (x, y) = (mean(0), mean(1));
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for (point, weight) in points {
            let (dx, dy) = (point[0] - x, point[1] - y);
            xx += weight * dx * dx;
            xy += weight * dx * dy;
            yy += weight * dy * dy;
        }
        if xx + yy <= 0.0 {
            return None;
        }
        let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
        let normal = [-angle.sin(), angle.cos()];
        Some(Self { normal, offset: normal[0] * x + normal[1] * y })
    }
}

/// The line that most points lie on: the pair of points that leaves the least median distance, then
/// least squares in which a point far off weighs nothing (Tukey's weights). `near` is the distance that still counts as
/// lying on it, at the least.
pub fn steady_line(points: &[Point], near: f64) -> Option<Line> {
    let count = points.len();
    if count < 4 {
        return None;
    }
    // pairs a third to two thirds of the length apart, the same every time: chance has no business here
    let mut best: Option<(f64, Line)> = None;
    for step in [count / 3, count / 2, 2 * count / 3] {
        for first in 0..count - step {
            let pair = [(points[first], 1.0), (points[first + step], 1.0)];
            let Some(line) = Line::through(&pair) else { continue };
            let mut away: Vec<f64> = points.iter().map(|point| line.away(*point).abs()).collect();
            let (_, middle, _) = away.select_nth_unstable_by(count / 2, f64::total_cmp);
            if best.as_ref().is_none_or(|(least, _)| *middle < *least) {
                best = Some((*middle, line));
            }
        }
    }
    let (middle, mut line) = best?;
    let reach = (4.0 * 1.4826 * middle).max(near);
    for _ in 0..5 {
        let weighted: Vec<(Point, f64)> =
            points.iter().map(|point| (*point, (1.0 - (line.away(*point) / reach).powi(2)).max(0.0).powi(2))).collect();
        line = Line::through(&weighted)?;
    }
    Some(line)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rectangle_of_a_turned_square_is_the_square() {
        let square = vec![[0.0, 1.0], [1.0, 0.0], [2.0, 1.0], [1.0, 2.0], [1.0, 1.0], [0.9, 1.1]];
        let outline = hull(square);
        assert_eq!(outline.len(), 4);
        assert!((area(&outline) - 2.0).abs() < 1e-12);
        assert!((smallest_rectangle(&outline).unwrap().1 - 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_few_strays_do_not_turn_a_line() {
        let points: Vec<Point> = (0..60)
            .map(|i| {
                let x = f64::from(i);
                [x, 3.0 + 0.1 * x + if i % 5 == 0 { 9.0 } else { 0.02 * f64::from(i % 3) - 0.02 }]
            })
            .collect();
        let line = steady_line(&points, 0.3).unwrap();
        assert!(line.away([0.0, 3.0]).abs() < 0.03 && line.away([60.0, 9.0]).abs() < 0.03, "{line:?}");
    }

    #[test]
    fn lines_meet_where_they_should() {
        let level = Line { normal: [0.0, 1.0], offset: 2.0 };
        let upright = Line { normal: [1.0, 0.0], offset: 5.0 };
        assert_eq!(level.meets(&upright), Some([5.0, 2.0]));
        assert_eq!(level.meets(&level), None);
    }
}
