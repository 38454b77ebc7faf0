//! The test figure: a house with a lattice window, a tree, a wheel, and a row of bars in steps of a
//! half stop of width. Drawn for this project.

/// Its width, mm on the film.
pub const WIDTH_MM: f64 = 24.0;
/// Its height, mm on the film.
pub const HEIGHT_MM: f64 = 16.0;

/// Widths of the bars in the row, mm; the gaps are as wide.
pub const BARS_MM: [f64; 7] = [1.0, 0.7, 0.5, 0.35, 0.25, 0.18, 0.125];

/// Reflectance of the ground, and what surrounds the figure.
pub const GROUND: f64 = 0.85;
const INK: f64 = 0.04;
const SHADE: f64 = 0.35;

/// Reflectance at a place of the figure, x to the right and y down from its corner, mm.
pub fn reflectance(x: f64, y: f64) -> f64 {
    let ink = bars(x, y) || house(x, y) || wheel(x, y) || trunk(x, y);
    if ink {
        INK
    } else if crown(x, y) || within(x, 0.8..23.2) && within(y, 15.0..15.3) {
        SHADE
    } else {
        GROUND
    }
}

fn within(x: f64, range: std::ops::Range<f64>) -> bool {
    range.contains(&x)
}

/// Three bars of each width.
fn bars(x: f64, y: f64) -> bool {
    let mut left = 1.2;
    for width in BARS_MM {
        let place = (x - left) / width;
        if within(place, 0.0..5.0) {
            return within(y, 1.2..4.2) && (place as u32).is_multiple_of(2);
        }
        left += 5.0 * width + 0.9;
    }
    false
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

    #[test]
    fn every_part_stands_where_the_words_say() {
        for (x, y, reflectance_there) in [
            (1.5, 2.0, INK),         // the first bar
            (2.7, 2.0, GROUND),      // the gap after it
            (5.5, 8.0, INK),         // the roof
            (2.8, 10.8, GROUND),     // a pane
            (3.4, 10.8, INK),        // the bar of its cross
            (12.45, 8.6, SHADE),     // the tree's crown
            (19.2, 11.3, INK),       // the hub
            (19.2 + 2.0, 11.3, INK), // a spoke
            (12.0, 15.1, SHADE),     // the ground line
            (0.1, 0.1, GROUND),
        ] {
            assert_eq!(reflectance(x, y), reflectance_there, "at {x}, {y}");
        }
    }

    #[test]
    fn the_bars_fit_into_the_figure() {
        let wide: f64 = BARS_MM.iter().map(|width| 5.0 * width + 0.9).sum();
        assert!(1.2 + wide < WIDTH_MM, "{wide}");
    }
}
