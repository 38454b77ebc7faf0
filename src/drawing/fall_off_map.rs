//! How the light falls off over the sheet, as lines of equal loss in stops.

use askama::Template;

use crate::{
    calc::{
        quantity::{HoleDiameter, PlateThickness},
        working::{figures, plain},
    },
    domain::camera::{Body, Geometry, light_over_sheet::LightOverSheet},
};

// The drawing is 420 units wide and 290 high, as its template says.

/// The middle of the sheet.
const MIDDLE: (f64, f64) = (210.0, 132.0);
/// Half of the room for the sheet.
const ROOM: (f64, f64) = (190.0, 118.0);
/// Directions in which a line is followed, round the whole.
const DIRECTIONS: usize = 180;
/// At most so many lines.
const LINES: f64 = 5.5;

/// Lines of equal loss over the sheet.
#[derive(Debug, Template)]
#[template(path = "drawings/fall_off_map.html")]
pub struct FallOffMap {
    id: &'static str,
    description: String,
    sheet: Sheet,
    lines: Vec<Line>,
    dark: Option<String>,
    corner: String,
    levels: Vec<f64>,
}

/// The outline of the sheet.
#[derive(Debug)]
enum Sheet {
    Rectangle([String; 4]),
    Disc(String),
}

/// One line.
#[derive(Debug)]
struct Line {
    path: String,
    label: String,
    x: String,
    y: String,
}

impl askama::filters::HtmlSafe for FallOffMap {}

/// Lines over the sheet.
struct Contours<'a>(&'a LightOverSheet);

impl Contours<'_> {
    /// Where, going outwards, the loss passes a level; `None` when not on the sheet. The loss only grows
    /// outwards.
    fn crossing(&self, direction: (f64, f64), level: f64) -> Option<(f64, f64)> {
        let place = |r: f64| (r * direction.0, r * direction.1);
        let past = |r: f64| {
            let (x, y) = place(r);
            let loss = self.0.loss_stops(x, y);
            if level.is_finite() { loss > level } else { !loss.is_finite() }
        };
        let (mut inner, mut outer) = (0.0, self.0.edge_mm(direction));
        if !past(outer) {
            return None;
        }
        // to a millionth of the way, far less than a line is wide
        for _ in 0..20 {
            let middle = (inner + outer) / 2.0;
            if past(middle) { outer = middle } else { inner = middle }
        }
        Some(place(inner))
    }

    /// A line of equal loss as a path, broken where it leaves the sheet, and a place for its label.
    fn line(&self, level: f64, scale: f64) -> Option<(String, (f64, f64))> {
        let mut path = String::new();
        let mut label: Option<((f64, f64), f64)> = None;
        let mut drawing = false;
        for i in 0..=DIRECTIONS {
            let turn = std::f64::consts::TAU * i as f64 / DIRECTIONS as f64;
            let direction = (turn.cos(), turn.sin());
            let Some((x, y)) = self.crossing(direction, level) else {
                drawing = false;
                continue;
            };
            let on_paper = (MIDDLE.0 + x * scale, MIDDLE.1 - y * scale);
            path.push_str(&format!("{}{:.1} {:.1}", if drawing { "L" } else { "M" }, on_paper.0, on_paper.1));
            drawing = true;
            // labels stand to the upper right, where they run least into one another
            let fits = (turn - 0.9).abs();
            if label.is_none_or(|(_, before)| fits < before) {
                label = Some((on_paper, fits));
            }
        }
        label.map(|(place, _)| (path, place))
    }
}

/// Levels that part what is lost on the sheet into a few steps.
fn levels(greatest: f64) -> Vec<f64> {
    let most = if greatest.is_finite() { greatest.min(12.0) } else { 6.0 };
    let step = [0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 3.0].into_iter().find(|step| most / step <= LINES).unwrap_or(3.0);
    (1..=5).map(|i| step * f64::from(i)).filter(|level| *level < most).collect()
}

impl FallOffMap {
    /// Draws it; with a plate of known thickness its bore counts as well. `id` begins the ids inside, unique
    /// on its page.
    pub fn of(id: &'static str, body: &Body, plate: Option<(HoleDiameter, PlateThickness)>) -> Self {
        let light = LightOverSheet::of(body, plate);
        let (half_width, half_height) = light.half_mm();
        let scale = (ROOM.0 / half_width).min(ROOM.1 / half_height);
        let greatest = light.greatest_stops();
        let contours = Contours(&light);
        let levels = levels(greatest);
        let lines: Vec<_> = levels
            .iter()
            .filter_map(|level| {
                let (path, (x, y)) = contours.line(*level, scale)?;
                Some(Line { path, label: plain(*level), x: format!("{x:.1}"), y: format!("{y:.1}") })
            })
            .collect();
        let (w, h) = (half_width * scale, half_height * scale);
        let rectangle = [MIDDLE.0 - w, MIDDLE.1 - h, 2.0 * w, 2.0 * h].map(|x| format!("{x:.1}"));
        let corner = if greatest.is_finite() { figures(greatest, 2) } else { "all".to_owned() };
        let disc = matches!(body.geometry(), Geometry::FlatDisc(_));
        Self {
            id,
            description: description(body, &light, &levels),
            levels: levels.clone(),
            sheet: if disc { Sheet::Disc(format!("{w:.1}")) } else { Sheet::Rectangle(rectangle) },
            lines,
            dark: if greatest.is_finite() { None } else { contours.line(f64::INFINITY, scale).map(|(path, _)| path) },
            corner: match (greatest.is_finite(), disc) {
                (true, true) => format!("stops lost; at the rim {corner}"),
                (true, false) => format!("stops lost; in the corner {corner}"),
                (false, _) => "stops lost; beyond the heavy line no light".to_owned(),
            },
        }
    }
}

impl FallOffMap {
    /// The losses, in stops, at which lines are drawn.
    pub fn levels(&self) -> &[f64] {
        &self.levels
    }
}

/// The same in words.
fn description(body: &Body, light: &LightOverSheet, levels: &[f64]) -> String {
    let half = light.half_mm();
    let (side, up) = (light.loss_stops(half.0, 0.0), light.loss_stops(0.0, half.1));
    let stops = |loss: f64| match loss {
        loss if !loss.is_finite() => "all of the light".to_owned(),
        loss if loss.abs() < 0.005 => "nothing".to_owned(),
        loss => format!("{} stops", figures(loss, 2)),
    };
    let shape = match body.geometry() {
        Geometry::FlatRectangle(..) => "a flat sheet",
        Geometry::FlatDisc(_) => "a round sheet",
        Geometry::Curved(..) => "a sheet bent along the can’s wall, unrolled",
    };
    let lines = levels.iter().map(|level| plain(*level)).collect::<Vec<_>>().join(", ");
    format!(
        "Light lost over {shape}, in stops against its middle. At the middle of its left and right edges {} is lost, at the \
         middle of its upper and lower edges {}, at most {}. Lines are drawn at {} stops.",
        stops(side),
        stops(up),
        stops(light.greatest_stops()),
        if lines.is_empty() { "no".to_owned() } else { lines }
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        camera::{Build, Film, Typed},
        measure::length::Length,
    };

    fn mm(value: f64) -> Typed {
        Typed { length: Length::from_mm(value), typed: format!("{value} mm") }
    }

    fn drawn(build: Build, film: Film, plate: Option<(f64, f64)>) -> String {
        let body = Body::new(build, film).expect("a camera");
        let plate =
            plate.map(|(d, t)| (HoleDiameter::new(d).expect("in range"), PlateThickness::new(t).expect("in range")));
        FallOffMap::of("fall-off", &body, plate).render().expect("a drawing")
    }

    fn wide_box() -> Film {
        Film::FlatRectangle { distance: mm(75.0), width: mm(120.0), height: mm(90.0) }
    }

    #[test]
    fn a_wide_box_loses_two_stops_in_its_corner() {
        // case O050 of tests/reference: at x 60, y 45 of a box 75 mm long two stops are lost
        let svg = drawn(Build::Box, wide_box(), None);
        assert!(svg.contains("in the corner 2.0") && svg.contains("at most 2.0 stops"), "{svg}");
        // the line of one stop is a circle of radius 75 √(√2 - 1) = 48.27 mm; upwards the sheet ends at 45
        assert!(svg.contains("drawn at 0.5, 1, 1.5 stops"), "{svg}");
    }

    #[test]
    fn along_a_can_s_arc_nothing_is_lost_and_its_lines_are_two() {
        let film = Film::Curved { inside_diameter: mm(120.0), width: mm(170.0), height: mm(120.0) };
        let svg = drawn(Build::SideHoleCan, film, None);
        assert!(svg.contains("right edges nothing is lost"), "{svg}");
        let path = svg.split("class=\"contour\" d=\"").nth(1).and_then(|rest| rest.split('"').next()).expect("a line");
        assert!(path.matches('M').count() >= 2, "above and below: {path}");
    }

    #[test]
    fn a_thick_plate_leaves_the_corners_dark() {
        // case O061 of tests/reference: 0.3 mm through 0.15 mm is shut at 63 degrees; here 0.3 through 0.4 at 37
        let svg = drawn(Build::Box, wide_box(), Some((0.3, 0.4)));
        assert!(svg.contains("beyond the heavy line no light") && svg.contains("at most all of the light"), "{svg}");
        let disc = Film::FlatDisc { distance: mm(150.0), diameter: mm(100.0) };
        let svg = drawn(Build::EndHoleCan, disc, Some((0.5, 0.05)));
        assert!(svg.contains("<circle") && svg.contains("at the rim 0."), "{svg}");
    }

    #[test]
    fn every_sheet_is_drawn_without_a_slip() {
        for (v, w, h) in [(5.0, 3000.0, 1.0), (5000.0, 1.0, 1.0), (5.0, 3000.0, 3000.0)] {
            let film = Film::FlatRectangle { distance: mm(v), width: mm(w), height: mm(h) };
            let svg = drawn(Build::Box, film, None);
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        }
        let film = Film::Curved { inside_diameter: mm(10.0), width: mm(31.0), height: mm(3000.0) };
        let svg = drawn(Build::SideHoleCan, film, Some((0.01, 10.0)));
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
    }
}
