//! The hole in its plate, cut through: how thick it is, and the steepest rays that still get through.

use askama::Template;

use crate::{
    calc::{
        optics::plate::cut_off_angle_deg,
        quantity::{HoleDiameter, PlateThickness},
        working::figures,
    },
    domain::measure::length::{LengthUnit, computed_words},
};

// The drawing is 420 units wide and 274 high, as its template says.

/// The middle of the hole.
const MIDDLE: (f64, f64) = (210.0, 112.0);
/// How tall the hole is drawn at most, and how deep the plate.
const TALLEST: f64 = 96.0;
const DEEPEST: f64 = 220.0;

/// The plate cut through the middle of its hole.
#[derive(Debug, Template)]
#[template(path = "drawings/plate_section.html")]
pub struct PlateSection {
    id: &'static str,
    description: String,
    /// Left, width, lower edge of the upper part, upper edge of the lower part with its height.
    plate: [String; 5],
    cut_off: [[String; 4]; 2],
    edge: [[String; 4]; 2],
    hole_words: String,
    plate_words: String,
    angle_words: String,
}

impl askama::filters::HtmlSafe for PlateSection {}

fn at(x: f64) -> String {
    format!("{x:.1}")
}

impl PlateSection {
    /// Draws it; `edge_deg` is the angle at which the film's edge is seen from the hole. `id` begins the ids
    /// inside, unique on its page.
    pub fn of(id: &'static str, hole: HoleDiameter, plate: PlateThickness, edge_deg: f64, unit: LengthUnit) -> Self {
        let (d, t) = (hole.as_mm(), plate.as_mm());
        let scale = (TALLEST / d).min(DEEPEST / t);
        let (half_hole, half_plate) = (d * scale / 2.0, (t * scale / 2.0).max(1.0));
        let (x, y) = MIDDLE;
        let angle = cut_off_angle_deg(hole, plate);
        let (words, said) = (computed_words(d, 3, unit), computed_words(t, 2, unit));
        let reaches = if edge_deg < angle {
            format!("The film’s edge lies at {} degrees, inside that.", figures(edge_deg, 2))
        } else {
            format!("The film’s edge lies at {} degrees: no light reaches it.", figures(edge_deg, 2))
        };
        Self {
            id,
            description: format!(
                "A hole {words} across in a plate {said} thick, cut through and drawn to scale. Light comes from the left; \
                 the steepest rays that still get through the hole go from one rim to the opposite one, {} degrees from \
                 straight ahead. {reaches}",
                figures(angle, 3)
            ),
            plate: [
                at(x - half_plate),
                at(2.0 * half_plate),
                at(y - half_hole),
                at(y + half_hole),
                at(2.0 * y - (y + half_hole)),
            ],
            cut_off: [1.0, -1.0].map(|side| through(side * half_hole / half_plate)),
            edge: [1.0, -1.0].map(|side| through(side * edge_deg.min(89.0).to_radians().tan())),
            hole_words: words,
            plate_words: format!("plate {said}"),
            angle_words: format!("cut off past {}°", figures(angle, 3)),
        }
    }
}

/// A line through the middle of the hole, out to the drawing's edge on both sides.
fn through(slope: f64) -> [String; 4] {
    let (x, y) = MIDDLE;
    let reach = if slope.abs() * (x - 4.0) > y - 4.0 { (y - 4.0) / slope.abs() } else { x - 4.0 };
    [at(x - reach), at(y - slope * reach), at(x + reach), at(y + slope * reach)]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(d: f64, t: f64, edge: f64) -> String {
        let (hole, plate) = (HoleDiameter::new(d).expect("in range"), PlateThickness::new(t).expect("in range"));
        PlateSection::of("plate-cut", hole, plate, edge, LengthUnit::Millimetre).render().expect("a drawing")
    }

    #[test]
    fn the_cut_off_is_drawn_from_rim_to_rim_and_said() {
        // case O062 of tests/reference: 0.3 mm in 0.1 mm is cut off at 71.6 degrees
        let svg = drawn(0.3, 0.1, 40.0);
        assert!(svg.contains("cut off past 71.6°") && svg.contains("inside that"), "{svg}");
        // 96 units for 0.3 mm: the plate is 32 units deep
        assert!(svg.contains(r#"x="194.0""#) && svg.contains(r#"width="32.0""#), "{svg}");
        assert!(drawn(0.3, 1.0, 40.0).contains("no light reaches it"));
    }

    #[test]
    fn thin_shim_and_thick_plates_are_drawn_without_a_slip() {
        for (d, t) in [(0.01, 10.0), (20.0, 0.001), (0.4, 0.05)] {
            let svg = drawn(d, t, 89.9);
            assert!(!svg.contains("NaN") && !svg.contains("inf") && !svg.contains("\"-"), "{svg}");
        }
    }
}
