//! A camera in section through the hole, from above or from the side, with its outermost rays.

use askama::Template;

use crate::{
    calc::{
        optics::field::{field_curved, field_disc, field_flat},
        working::figures,
    },
    domain::camera::{Body, Film, Geometry},
};

// The drawing is 420 units wide and 300 high, as its template says.

/// The camera's own part: from this far left …
const LEFT: f64 = 120.0;
/// … to this far right, …
const RIGHT: f64 = 400.0;
/// … and at most so high; below it stands the distance.
const TALL: f64 = 230.0;
/// Where the axis lies.
const AXIS: f64 = 130.0;

/// A camera in section.
#[derive(Debug, Template)]
#[template(path = "drawings/camera_section.html")]
pub struct CameraSection {
    id: &'static str,
    title: &'static str,
    description: String,
    hole_x: String,
    axis: String,
    /// The plate above and below the hole: from, to.
    plate: [(String, String); 2],
    walls: Wall,
    film: String,
    rays: Vec<[String; 4]>,
    measure: [String; 3],
    distance: String,
    angle: String,
}

/// The camera's outline.
#[derive(Debug)]
enum Wall {
    Box { x: String, y: String, width: String, height: String },
    Round { cx: String, radius: String },
}

impl askama::filters::HtmlSafe for CameraSection {}

fn at(x: f64) -> String {
    format!("{x:.1}")
}

impl CameraSection {
    /// Draws it from above, with the film's width; `id` begins the ids inside, unique on its page.
    pub fn of(body: &Body, id: &'static str) -> Self {
        let v = body.hole_to_film().as_mm();
        let (mut drawn, angle) = match body.geometry() {
            Geometry::FlatRectangle(width, height) => {
                let angle = field_flat(width, height, body.hole_to_film()).horizontal_deg;
                (Self::flat(id, v, width.as_mm()), angle)
            }
            Geometry::FlatDisc(diameter) => {
                let angle = field_disc(diameter, body.hole_to_film()).horizontal_deg;
                (Self::flat(id, v, diameter.as_mm()), angle)
            }
            Geometry::Curved(arc, height, inside) => {
                let angle = field_curved(arc, height, inside).horizontal_deg;
                (Self::curved(id, v, arc.as_mm()), angle)
            }
        };
        drawn.distance = body.film().distance().typed.clone();
        drawn.angle = format!("{}°", figures(angle, 3));
        drawn.description = description(body.film(), &figures(angle, 3));
        drawn
    }

    /// Draws it from the side, with the film's height; a round film looks the same from above.
    pub fn from_side(body: &Body, id: &'static str) -> Option<Self> {
        let v = body.hole_to_film();
        let (height, angle) = match body.geometry() {
            Geometry::FlatRectangle(width, height) => (height, field_flat(width, height, v).vertical_deg),
            Geometry::Curved(arc, height, inside) => (height, field_curved(arc, height, inside).vertical_deg),
            Geometry::FlatDisc(_) => return None,
        };
        let angle = figures(angle, 3);
        Some(Self {
            title: "The camera in section, seen from the side",
            distance: body.film().distance().typed.clone(),
            angle: format!("{angle}°"),
            description: description_from_side(body.film(), &angle),
            ..Self::flat(id, v.as_mm(), height.as_mm())
        })
    }

    fn flat(id: &'static str, v: f64, film: f64) -> Self {
        let scale = ((RIGHT - LEFT) / v).min(TALL / (film * 1.12));
        let (film_x, half) = (LEFT + v * scale, film * scale / 2.0);
        let wall = half * 1.12;
        let slope = half / (film_x - LEFT);
        Self {
            plate: [(at(AXIS - wall), at(AXIS - 3.0)), (at(AXIS + 3.0), at(AXIS + wall))],
            walls: Wall::Box { x: at(LEFT), y: at(AXIS - wall), width: at(film_x - LEFT), height: at(2.0 * wall) },
            film: format!("M{film_x:.1} {:.1}V{:.1}", AXIS - half, AXIS + half),
            rays: [1.0, -1.0].map(|side| ray((film_x, AXIS + side * half), slope * side)).to_vec(),
            measure: [at(LEFT), at(film_x), at((LEFT + film_x) / 2.0)],
            ..Self::blank(id)
        }
    }

    fn curved(id: &'static str, inside: f64, arc: f64) -> Self {
        let scale = ((RIGHT - LEFT) / inside).min(TALL / inside);
        let radius = inside * scale / 2.0;
        let (centre, turn) = (LEFT + radius, arc / inside);
        let end = (centre + radius * turn.cos(), radius * turn.sin());
        let large = u8::from(turn > std::f64::consts::FRAC_PI_2);
        let slope = end.1 / (end.0 - LEFT).max(0.1);
        Self {
            plate: [(at(AXIS - 9.0), at(AXIS - 3.0)), (at(AXIS + 3.0), at(AXIS + 9.0))],
            walls: Wall::Round { cx: at(centre), radius: at(radius) },
            film: format!(
                "M{:.1} {:.1}A{radius:.1} {radius:.1} 0 {large} 1 {:.1} {:.1}",
                end.0,
                AXIS - end.1,
                end.0,
                AXIS + end.1
            ),
            rays: [1.0, -1.0].map(|side| ray((end.0, AXIS + side * end.1), slope * side)).to_vec(),
            measure: [at(LEFT), at(LEFT + 2.0 * radius), at(centre)],
            ..Self::blank(id)
        }
    }

    fn blank(id: &'static str) -> Self {
        Self {
            id,
            title: "The camera in section, seen from above",
            description: String::new(),
            hole_x: at(LEFT),
            axis: at(AXIS),
            plate: Default::default(),
            walls: Wall::Round { cx: String::new(), radius: String::new() },
            film: String::new(),
            rays: Vec::new(),
            measure: Default::default(),
            distance: String::new(),
            angle: String::new(),
        }
    }
}

/// The same in words, with the lengths as they were typed.
fn description(film: &Film, angle: &str) -> String {
    let flat = |distance: &str, across: &str| {
        format!(
            "Light comes from the left through the hole. The film stands flat {distance} behind it and is {across} across; \
             its outermost rays meet in the hole at {angle} degrees. Drawn to scale."
        )
    };
    match film {
        Film::FlatRectangle { distance, width, .. } => flat(&distance.typed, &width.typed),
        Film::FlatDisc { distance, diameter } => flat(&distance.typed, &diameter.typed),
        Film::Curved { inside_diameter, width, .. } => format!(
            "A round can {} across inside. Light comes from the left through the hole in its side. The film lies {} long \
             along the wall opposite; its outermost rays meet in the hole at {angle} degrees. Drawn to scale.",
            inside_diameter.typed, width.typed
        ),
    }
}

fn description_from_side(film: &Film, angle: &str) -> String {
    let (stands, height) = match film {
        Film::FlatRectangle { distance, height, .. } => (format!("flat {} behind it", distance.typed), &height.typed),
        Film::Curved { inside_diameter, height, .. } => {
            (format!("along the wall opposite, {} away straight ahead", inside_diameter.typed), &height.typed)
        }
        // drawn from above only
        Film::FlatDisc { distance, diameter } => (format!("flat {} behind it", distance.typed), &diameter.typed),
    };
    format!(
        "From the side. Light comes from the left through the hole. The film stands {stands} and is {height} high; its highest \
         and lowest rays meet in the hole at {angle} degrees. Drawn to scale."
    )
}

/// From a point of the film through the hole and out to the left edge, or to the top or bottom.
fn ray(film: (f64, f64), slope: f64) -> [String; 4] {
    let reach = if slope.abs() * LEFT > AXIS { AXIS / slope.abs() } else { LEFT };
    [at(film.0), at(film.1), at(LEFT - reach), at(AXIS - slope * reach)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        camera::{Build, Typed},
        measure::length::Length,
    };

    fn mm(value: f64) -> Typed {
        Typed { length: Length::from_mm(value), typed: format!("{value} mm") }
    }

    fn drawn(build: Build, film: Film) -> String {
        CameraSection::of(&Body::new(build, film).expect("a camera"), "camera").render().expect("a drawing")
    }

    #[test]
    fn a_box_is_drawn_to_scale_and_said_in_words() {
        let film = Film::FlatRectangle { distance: mm(120.0), width: mm(100.0), height: mm(125.0) };
        let svg = drawn(Build::Box, film);
        // 230 units high for 112 mm, so 2.0536 units a mm: the film stands 246.4 units from the hole
        assert!(svg.contains("M366.4 27.3V232.7"), "{svg}");
        assert!(svg.contains("flat 120 mm behind it and is 100 mm across"), "{svg}");
        assert!(svg.contains(r#"role="img" aria-labelledby="camera-title camera-description""#), "{svg}");
    }

    #[test]
    fn from_the_side_the_film_s_height_is_drawn() {
        let side = |build, film| {
            let body = Body::new(build, film).expect("a camera");
            CameraSection::from_side(&body, "side").map(|drawn| drawn.render().expect("a drawing"))
        };
        let flat = Film::FlatRectangle { distance: mm(120.0), width: mm(100.0), height: mm(80.0) };
        let svg = side(Build::Box, flat).expect("a side");
        // 280 units for 120 mm: 2.3333 units a mm, 80 mm are 93.3 to either side
        assert!(svg.contains("M400.0 36.7V223.3") && svg.contains("seen from the side"), "{svg}");
        // 2 atan(40 / 120) = 36.9 degrees
        assert!(svg.contains("is 80 mm high") && svg.contains("36.9°"), "{svg}");
        let bent = Film::Curved { inside_diameter: mm(120.0), width: mm(170.0), height: mm(120.0) };
        let svg = side(Build::SideHoleCan, bent).expect("a side");
        assert!(svg.contains("120 mm away straight ahead and is 120 mm high") && svg.contains("53.1°"), "{svg}");
        let disc = Film::FlatDisc { distance: mm(150.0), diameter: mm(95.0) };
        assert!(side(Build::EndHoleCan, disc).is_none(), "the same as from above");
    }

    #[test]
    fn a_film_longer_than_half_the_round_takes_the_long_way() {
        let film = |arc| Film::Curved { inside_diameter: mm(120.0), width: mm(arc), height: mm(100.0) };
        assert!(drawn(Build::SideHoleCan, film(170.0)).contains(" 0 0 1 "));
        assert!(drawn(Build::SideHoleCan, film(300.0)).contains(" 0 1 1 "));
    }

    #[test]
    fn every_camera_that_can_be_built_is_drawn_without_a_slip() {
        for (v, w) in [(5.0, 3000.0), (5000.0, 1.0), (5.0, 1.0), (5000.0, 3000.0)] {
            let film = Film::FlatRectangle { distance: mm(v), width: mm(w), height: mm(w) };
            let svg = drawn(Build::Box, film);
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
        }
        let film = Film::Curved { inside_diameter: mm(10.0), width: mm(31.0), height: mm(3000.0) };
        let svg = drawn(Build::SideHoleCan, film);
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
    }
}
