//! Definitions: what the camera sees, and how the light falls off over the film.

use super::definition::{Definition, Kind, Refusal, Values, Worked, number, of};
use super::given::Given;
use crate::calc::optics::{covered, fall_off, field, plate};
use crate::calc::quantity::{
    FilmSide, HoleDiameter, HoleToFilm, InsideDiameter, PlateThickness, SubjectDistance, range_end,
};

/// Angles off the axis: at 90 degrees nothing reaches the film.
const OFF_AXIS: Kind = number(0.0, 89.9, "°");
/// Inside radius of a round can.
pub const INSIDE_RADIUS: Kind = number(InsideDiameter::MIN / 2.0, InsideDiameter::MAX / 2.0, "mm");

/// The can of an inside radius.
pub fn inside(given: &Given) -> Result<InsideDiameter, Refusal> {
    InsideDiameter::new(given.number("inside_radius_mm")? * 2.0).map_err(|range| Refusal::of("inside_radius_mm", range))
}

/// A hole as wide as its distance to the film, or wider, is no pinhole: most likely a wrong unit.
pub fn within_the_camera(given: &Given) -> Result<(), Refusal> {
    let (hole, v) = (given.get::<HoleDiameter>("hole_diameter_mm")?, given.get::<HoleToFilm>("hole_to_film_mm")?);
    if hole.as_mm() < v.as_mm() {
        return Ok(());
    }
    let (least, v) = (range_end(HoleDiameter::MIN), range_end(v.as_mm()));
    Err(Refusal::of("hole_diameter_mm", format!("must be from {least} to below {v} mm, the distance to the film")))
}

pub fn definitions() -> Vec<Definition> {
    let mut all = fields();
    all.extend(fall_offs());
    all
}

fn fields() -> Vec<Definition> {
    vec![
        Definition::new("field_flat", &["horizontal_deg", "vertical_deg", "diagonal_deg", "corner_loss_stops"], |g| {
            let (w, h, v) = (g.get("film_width_mm")?, g.get("film_height_mm")?, g.get("hole_to_film_mm")?);
            let seen = field::field_flat(w, h, v);
            Ok(Values::new()
                .with("horizontal_deg", seen.horizontal_deg)
                .with("vertical_deg", seen.vertical_deg)
                .with("diagonal_deg", seen.diagonal_deg)
                .with("corner_loss_stops", seen.corner_loss_stops)
                .with_working(field::field_flat_working(w, h, v)))
        })
        .takes("film_width_mm", of::<FilmSide>())
        .takes("film_height_mm", of::<FilmSide>())
        .takes("hole_to_film_mm", of::<HoleToFilm>()),
        Definition::new("field_curved", &["horizontal_deg", "vertical_deg"], |g| {
            let (arc, can) = (g.get::<FilmSide>("film_arc_mm")?, inside(g)?);
            within("film_arc_mm", arc.as_mm(), 1.0, can.as_mm() * std::f64::consts::PI)?;
            let height = g.get("film_height_mm")?;
            let seen = field::field_curved(arc, height, can);
            Ok(Values::new()
                .with("horizontal_deg", seen.horizontal_deg)
                .with("vertical_deg", seen.vertical_deg)
                .with_working(field::field_curved_working(arc, height, can)))
        })
        .takes("film_arc_mm", of::<FilmSide>())
        .takes("film_height_mm", of::<FilmSide>())
        .takes("inside_radius_mm", INSIDE_RADIUS),
        Definition::new("covered_area", &["area_mm2"], |g| {
            let (w, h) = (g.get("film_width_mm")?, g.get("film_height_mm")?);
            let circle = g.number("image_circle_mm")?;
            Ok(Values::new()
                .with("area_mm2", covered::covered_area_mm2(w, h, circle))
                .with_working(covered::covered_area_working(w, h, circle)))
        })
        .takes("film_width_mm", of::<FilmSide>())
        .takes("film_height_mm", of::<FilmSide>())
        .takes("image_circle_mm", number(0.0, 1e8, "mm")),
        Definition::new("magnification", &["magnification"], |g| {
            let (u, v) = (g.get("subject_distance_mm")?, g.get("hole_to_film_mm")?);
            Ok(Values::new()
                .with("magnification", field::magnification(u, v))
                .with_working(field::magnification_working(u, v)))
        })
        .takes("subject_distance_mm", of::<SubjectDistance>())
        .takes("hole_to_film_mm", of::<HoleToFilm>()),
        Definition::new("subject_size", &["subject_mm"], |g| {
            let (film, u, v) = (g.get("film_mm")?, g.get("subject_distance_mm")?, g.get("hole_to_film_mm")?);
            Ok(Values::new()
                .with("subject_mm", field::subject_size_mm(film, u, v))
                .with_working(field::subject_size_working(film, u, v)))
        })
        .takes("film_mm", of::<FilmSide>())
        .takes("subject_distance_mm", of::<SubjectDistance>())
        .takes("hole_to_film_mm", of::<HoleToFilm>()),
    ]
}

fn fall_offs() -> Vec<Definition> {
    vec![
        Definition::new("fall_off_flat", &["relative_illuminance", "loss_stops"], |g| {
            let (light, working) = if g.has("angle_deg") {
                let angle = g.number("angle_deg")?;
                (fall_off::fall_off_at_angle(angle), fall_off::fall_off_at_angle_working(angle))
            } else {
                let (x, y, v) = (g.number("x_mm")?, g.number("y_mm")?, g.get("hole_to_film_mm")?);
                (fall_off::fall_off_flat(x, y, v), fall_off::fall_off_flat_working(x, y, v))
            };
            Ok(Values::new()
                .with("relative_illuminance", light.as_share())
                .with("loss_stops", light.loss_stops())
                .with_working(working))
        })
        .takes("angle_deg", OFF_AXIS)
        .takes("x_mm", ON_FILM)
        .takes("y_mm", ON_FILM)
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .either(&[&["angle_deg"], &["x_mm", "y_mm", "hole_to_film_mm"]]),
        Definition::new("fall_off_curved", &["relative_illuminance", "azimuth_deg", "elevation_deg"], fall_off_curved)
            .takes("arc_mm", ON_FILM)
            .takes("height_mm", ON_FILM)
            .takes("inside_radius_mm", INSIDE_RADIUS)
            .may_take("hole_radius_mm", number(1.0, 2000.0, "mm")),
        Definition::new("plate_bore", &["open_share"], |g| {
            let (hole, thickness) = (g.get("hole_diameter_mm")?, g.get("plate_thickness_mm")?);
            let angle = g.number("angle_deg")?;
            Ok(Values::new()
                .with("open_share", plate::open_share(angle, hole, thickness))
                .with_working(plate::open_share_working(angle, hole, thickness)))
        })
        .takes("angle_deg", OFF_AXIS)
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("plate_thickness_mm", of::<PlateThickness>()),
        Definition::new("plate_cut_off", &["cut_off_angle_deg", "image_circle_mm"], |g| {
            let (hole, thickness) = (g.get("hole_diameter_mm")?, g.get("plate_thickness_mm")?);
            let angle = plate::cut_off_angle_deg(hole, thickness);
            let values = Values::new().with("cut_off_angle_deg", angle);
            let v = g.find("hole_to_film_mm")?;
            let values = match v {
                Some(v) => {
                    within_the_camera(g)?;
                    values.with("image_circle_mm", plate::cut_off_circle_mm(v, hole, thickness))
                }
                None => values,
            };
            Ok(values.with_working(plate::cut_off_working(v, hole, thickness)))
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("plate_thickness_mm", of::<PlateThickness>())
        .may_take("hole_to_film_mm", of::<HoleToFilm>()),
        Definition::new("image_circle", &["image_circle_mm"], |g| {
            let (v, loss) = (g.get("hole_to_film_mm")?, g.number("loss_stops")?);
            let bore = match (g.find("hole_diameter_mm")?, g.find("plate_thickness_mm")?) {
                (None, None) => None,
                (Some(hole), Some(plate)) => {
                    within_the_camera(g)?;
                    Some((hole, plate))
                }
                (None, Some(_)) => return Err(pair("hole_diameter_mm", of::<HoleDiameter>())),
                (Some(_), None) => return Err(pair("plate_thickness_mm", of::<PlateThickness>())),
            };
            let circle = match bore {
                None => plate::image_circle_mm(v, loss),
                Some((hole, plate)) => plate::image_circle_in_plate_mm(v, loss, hole, plate),
            };
            Ok(Values::new().with("image_circle_mm", circle).with_working(plate::image_circle_working(v, loss, bore)))
        })
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .takes("loss_stops", number(0.01, 20.0, "stops"))
        .may_take("hole_diameter_mm", of::<HoleDiameter>())
        .may_take("plate_thickness_mm", of::<PlateThickness>()),
    ]
}

const ON_FILM: Kind = number(-FilmSide::MAX, FilmSide::MAX, "mm");

/// Hole diameter and plate thickness only mean something together.
fn pair(missing: &'static str, kind: Kind) -> Refusal {
    let message =
        format!("is missing: hole_diameter_mm and plate_thickness_mm go together; it must be {}", kind.description());
    Refusal::of(missing, message)
}

/// A bound that depends on another input.
pub fn within(field: &'static str, value: f64, min: f64, max: f64) -> Result<(), Refusal> {
    if (min..=max).contains(&value) {
        Ok(())
    } else {
        Err(Refusal::of(field, format!("must be {}", number(min, max, "mm").description())))
    }
}

fn fall_off_curved(g: &Given) -> Result<Worked, Refusal> {
    let can = inside(g)?;
    let arc = g.number("arc_mm")?;
    // Further round the wall than to the hole's own side there is no film to fall on.
    let half = can.radius_mm() * std::f64::consts::PI;
    within("arc_mm", arc, -0.999 * half, 0.999 * half)?;
    let hole_radius = if g.has("hole_radius_mm") { g.number("hole_radius_mm")? } else { can.radius_mm() };
    let (height, radius) = (g.number("height_mm")?, can.radius_mm());
    let point = fall_off::fall_off_curved_from(arc, height, radius, hole_radius);
    Ok(Values::new()
        .with("relative_illuminance", point.relative.as_share())
        .with("azimuth_deg", point.azimuth_deg)
        .with("elevation_deg", point.elevation_deg)
        .with_working(fall_off::fall_off_curved_working(arc, height, radius, hole_radius)))
}
