//! The test figure: a house with a lattice window, a tree, a wheel, and a row of bars in steps of a
//! half stop of width. Drawn for this project.
//!
//! It is as wide as a piece of the camera's print can be and still lie beside two others on a sheet of
//! paper. House, tree and wheel grow with it; the bars keep their widths, so that they mean the same on
//! every print.

use crate::calc::quantity::FilmSide;

/// How wide the figure is at most, mm: three side by side fit on a page.
pub const WIDEST_MM: f64 = 54.0;

/// Widths of the bars, mm, as many of them as the figure holds; the gaps are as wide.
const BARS_MM: [f64; 9] = [2.0, 1.4, 1.0, 0.7, 0.5, 0.35, 0.25, 0.18, 0.125];

/// Reflectance of the ground, and what surrounds the figure.
pub const GROUND: f64 = 0.85;
/// Reflectance of the ink.
pub const INK: f64 = 0.04;
const SHADE: f64 = 0.35;

/// Where the first bar begins and how far the next group is, in the figure's own units.
const MARGIN: f64 = 1.2;
const BETWEEN: f64 = 0.9;

/// The figure was drawn 24 units wide and 16 high.
const UNITS_WIDE: f64 = 24.0;
const UNITS_HIGH: f64 = 16.0;

/// The test figure on a print.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TestFigure {
    /// Millimetres of one unit of the drawing.
    unit_mm: f64,
}

impl TestFigure {
    /// The figure for a print of these sides: half as wide again as high, no larger than the print.
    pub fn on(width: FilmSide, height: FilmSide) -> Self {
        let fits = width.as_mm().min(height.as_mm() * UNITS_WIDE / UNITS_HIGH).min(WIDEST_MM);
        // whole tenths of a millimetre, so that equal prints have equal figures
        Self { unit_mm: ((fits * 10.0 + 1e-6).floor() / 10.0).max(0.6) / UNITS_WIDE }
    }

    /// The figure for a round print: the largest within the circle.
    pub fn on_disc(diameter: FilmSide) -> Self {
        let width = diameter.as_mm() * UNITS_WIDE / UNITS_WIDE.hypot(UNITS_HIGH);
        let unit_mm = ((width.min(WIDEST_MM) * 10.0 + 1e-6).floor() / 10.0).max(0.6) / UNITS_WIDE;
        Self { unit_mm }
    }

    /// Its width, mm on the print.
    pub fn width_mm(self) -> f64 {
        UNITS_WIDE * self.unit_mm
    }

    /// Its height, mm on the print.
    pub fn height_mm(self) -> f64 {
        UNITS_HIGH * self.unit_mm
    }

    /// The widths of its bars, mm, the widest first; at least the finest one.
    pub fn bars_mm(self) -> &'static [f64] {
        let first = (0..BARS_MM.len()).find(|first| self.row_mm(&BARS_MM[*first..]) <= self.width_mm());
        &BARS_MM[first.unwrap_or(BARS_MM.len() - 1)..]
    }

    /// How far a row of bars reaches.
    fn row_mm(self, bars: &[f64]) -> f64 {
        self.unit_mm * MARGIN + bars.iter().map(|width| 5.0 * width + self.unit_mm * BETWEEN).sum::<f64>()
    }

    /// Where the bars of a width begin, mm from the left edge.
    #[cfg(test)]
    pub fn bars_at_mm(self, wanted: f64) -> f64 {
        let before: Vec<f64> = self.bars_mm().iter().copied().take_while(|width| *width != wanted).collect();
        self.row_mm(&before)
    }

    /// Reflectance at a place of the figure, x to the right and y down from its corner, mm.
    pub fn reflectance(self, x_mm: f64, y_mm: f64) -> f64 {
        let (x, y) = (x_mm / self.unit_mm, y_mm / self.unit_mm);
        let ink = self.bars(x_mm, y) || house(x, y) || wheel(x, y) || trunk(x, y);
        if ink {
            INK
        } else if crown(x, y) || within(x, 0.8..23.2) && within(y, 15.0..15.3) {
            SHADE
        } else {
            GROUND
        }
    }

    /// Three bars of each width.
    fn bars(self, x_mm: f64, y: f64) -> bool {
        let mut left = self.unit_mm * MARGIN;
        for width in self.bars_mm() {
            let place = (x_mm - left) / width;
            if within(place, 0.0..5.0) {
                return within(y, 1.2..4.2) && (place as u32).is_multiple_of(2);
            }
            left += 5.0 * width + self.unit_mm * BETWEEN;
        }
        false
    }
}

fn within(x: f64, range: std::ops::Range<f64>) -> bool {
    range.contains(&x)
}

fn house(x: f64, y: f64) -> bool {
    let roof = within(y, 5.6..9.4) && (x - 5.5).abs() < (y - 5.6) * 1.2;
    let front = within(x, 1.8..9.2) && within(y, 9.4..15.0);
    let pane = |left: f64| {
        let (px, py) = (x - left, y - 10.4);
        // a cross of thin bars in the window
        within(px, 0.0..1.8) && within(py, 0.0..1.8) && (px - 0.9).abs() > 0.12 && (py - 0.9).abs() > 0.12
    };
    let door = within(x, 4.9..6.1) && within(y, 12.4..15.0);
    (roof || front) && !pane(2.5) && !pane(6.7) && !door
}

fn trunk(x: f64, y: f64) -> bool {
    within(x, 12.2..12.7) && within(y, 10.5..15.0)
}

fn crown(x: f64, y: f64) -> bool {
    (x - 12.45).hypot(y - 8.6) < 2.3
}

/// A rim, a hub and twelve spokes.
fn wheel(x: f64, y: f64) -> bool {
    let (dx, dy) = (x - 19.2, y - 11.3);
    let r = dx.hypot(dy);
    let spoke = {
        let turn = dy.atan2(dx) / (std::f64::consts::TAU / 12.0);
        r < 3.5 && r * ((turn - turn.round()) * std::f64::consts::TAU / 12.0).sin().abs() < 0.08
    };
    within(r, 3.35..3.7) || r < 0.4 || spoke
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(width: f64, height: f64) -> TestFigure {
        TestFigure::on(FilmSide::new(width).unwrap(), FilmSide::new(height).unwrap())
    }

    #[test]
    fn every_part_stands_where_the_words_say() {
        // as it was drawn, and as large as it gets
        for (figure, unit) in [(on(24.0, 16.0), 1.0), (on(127.0, 102.0), 2.25)] {
            for (x, y, reflectance_there) in [
                (5.5, 8.0, INK),         // the roof
                (2.8, 10.8, GROUND),     // a pane
                (3.4, 10.8, INK),        // the bar of its cross
                (12.45, 8.6, SHADE),     // the tree's crown
                (19.2, 11.3, INK),       // the hub
                (19.2 + 2.0, 11.3, INK), // a spoke
                (12.0, 15.1, SHADE),     // the ground line
                (0.1, 0.1, GROUND),
            ] {
                assert_eq!(figure.reflectance(x * unit, y * unit), reflectance_there, "at {x}, {y}");
            }
            let first = figure.bars_mm()[0];
            let left = figure.bars_at_mm(first);
            assert_eq!(figure.reflectance(left + 0.5 * first, 2.0 * unit), INK, "the first bar");
            assert_eq!(figure.reflectance(left + 1.5 * first, 2.0 * unit), GROUND, "the gap after it");
        }
    }

    #[test]
    fn the_figure_is_no_larger_than_the_print_and_its_bars_fit() {
        assert_eq!(on(127.0, 102.0).width_mm(), 54.0);
        assert_eq!(on(36.0, 24.0).width_mm(), 36.0);
        assert!((on(200.0, 20.0).width_mm() - 30.0).abs() < 1e-9, "half as wide again as high");
        let disc = TestFigure::on_disc(FilmSide::new(30.0).unwrap());
        assert!(disc.width_mm().hypot(disc.height_mm()) <= 30.0);
        for side in [1.0, 5.0, 12.0, 24.0, 36.0, 54.0, 300.0] {
            let figure = on(side, side);
            let bars = figure.bars_mm();
            assert!(bars.last() == Some(&0.125) && (side < 4.0 || figure.row_mm(bars) <= figure.width_mm()), "{side}");
        }
        assert_eq!(on(54.0, 36.0).bars_mm(), BARS_MM);
        assert_eq!(on(24.0, 16.0).bars_mm(), &BARS_MM[2..]);
    }
}
