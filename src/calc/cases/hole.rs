//! Definitions: the hole, its tools and measurement, the field and the fall-off.

use super::definition::{Definition, Kind, Refusal, Values, number, of};
use super::given::{Given, Item};
use crate::calc::imaging::scan;
use crate::calc::optics::{fall_off, field, gauges, hole_formula, micrometer, plate, readings};
use crate::calc::quantity::{
    FNumber, FilmSide, HoleConstant, HoleDiameter, HoleToFilm, InsideDiameter, InstrumentUncertainty, PlateThickness,
    PointDiameter, ShaftDiameter, SubjectDistance, TaperLength, Wavelength,
};

/// Angles off the axis: at 90 degrees nothing reaches the film.
pub const OFF_AXIS: Kind = number(0.0, 89.9, "°");
/// Inside radius of a round can.
pub const INSIDE_RADIUS: Kind = number(InsideDiameter::MIN / 2.0, InsideDiameter::MAX / 2.0, "mm");

/// The can of an inside radius.
pub fn inside(given: &Given) -> Result<InsideDiameter, Refusal> {
    InsideDiameter::new(given.number("inside_radius_mm")? * 2.0).map_err(|range| Refusal::of("inside_radius_mm", range))
}

pub fn definitions() -> Vec<Definition> {
    let mut all = formulas();
    all.extend(fields());
    all.extend(fall_offs());
    all.extend(sizes());
    all.extend(measurements());
    all
}

fn formulas() -> Vec<Definition> {
    vec![
        Definition::new("hole_diameter", &["hole_diameter_mm", "working"], |g| {
            let (v, nm) = (g.get("hole_to_film_mm")?, g.get("wavelength_nm")?);
            let (c, u) = (g.get("constant")?, g.find("subject_distance_mm")?);
            Ok(Values::new()
                .with("hole_diameter_mm", hole_formula::hole_diameter(v, nm, c, u).as_mm())
                .with_working(hole_formula::hole_diameter_working(v, nm, c, u)))
        })
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .takes("wavelength_nm", of::<Wavelength>())
        .defaults("constant", of::<HoleConstant>(), Item::Number(1.9))
        .may_take("subject_distance_mm", of::<SubjectDistance>()),
        Definition::new("associated_focal_length", &["focal_length_mm", "working"], |g| {
            let (hole, nm, c) = (g.get("hole_diameter_mm")?, g.get("wavelength_nm")?, g.get("constant")?);
            Ok(Values::new()
                .with("focal_length_mm", hole_formula::associated_focal_length(hole, nm, c).as_mm())
                .with_working(hole_formula::associated_focal_length_working(hole, nm, c)))
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("wavelength_nm", of::<Wavelength>())
        .defaults("constant", of::<HoleConstant>(), Item::Number(1.9)),
        Definition::new("f_number", &["f_number", "working"], |g| {
            let (v, hole) = (g.get("hole_to_film_mm")?, g.get("hole_diameter_mm")?);
            Ok(Values::new()
                .with("f_number", field::f_number(v, hole).as_number())
                .with_working(field::f_number_working(v, hole)))
        })
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .takes("hole_diameter_mm", of::<HoleDiameter>()),
        Definition::new("time_factor", &["factor"], |g| {
            let n = field::f_number(g.get("hole_to_film_mm")?, g.get("hole_diameter_mm")?);
            let factor = field::time_factor(n, g.get("reference_f_number")?);
            Ok(Values::new().with("factor", factor))
        })
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("reference_f_number", of::<FNumber>()),
        Definition::new("geometric_blur", &["diameter_mm"], |g| {
            let blur = hole_formula::geometric_blur_mm(
                g.get("hole_diameter_mm")?,
                g.get("hole_to_film_mm")?,
                g.find("subject_distance_mm")?,
            );
            Ok(Values::new().with("diameter_mm", blur))
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .may_take("subject_distance_mm", of::<SubjectDistance>()),
        Definition::new("airy_radius", &["radius_mm"], |g| {
            let radius = hole_formula::airy_radius_mm(
                g.get("hole_diameter_mm")?,
                g.get("hole_to_film_mm")?,
                g.get("wavelength_nm")?,
            );
            Ok(Values::new().with("radius_mm", radius))
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .takes("wavelength_nm", of::<Wavelength>()),
    ]
}

fn fields() -> Vec<Definition> {
    vec![
        Definition::new(
            "field_flat",
            &["horizontal_deg", "vertical_deg", "diagonal_deg", "corner_loss_stops", "working"],
            |g| {
                let (w, h, v) = (g.get("film_width_mm")?, g.get("film_height_mm")?, g.get("hole_to_film_mm")?);
                let seen = field::field_flat(w, h, v);
                Ok(Values::new()
                    .with("horizontal_deg", seen.horizontal_deg)
                    .with("vertical_deg", seen.vertical_deg)
                    .with("diagonal_deg", seen.diagonal_deg)
                    .with("corner_loss_stops", seen.corner_loss_stops)
                    .with_working(field::field_flat_working(w, h, v)))
            },
        )
        .takes("film_width_mm", of::<FilmSide>())
        .takes("film_height_mm", of::<FilmSide>())
        .takes("hole_to_film_mm", of::<HoleToFilm>()),
        Definition::new("field_curved", &["horizontal_deg", "vertical_deg", "working"], |g| {
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
            let area = plate::covered_area_mm2(
                g.get("film_width_mm")?,
                g.get("film_height_mm")?,
                g.number("image_circle_mm")?,
            );
            Ok(Values::new().with("area_mm2", area))
        })
        .takes("film_width_mm", of::<FilmSide>())
        .takes("film_height_mm", of::<FilmSide>())
        .takes("image_circle_mm", number(0.0, 1e8, "mm")),
        Definition::new("magnification", &["magnification"], |g| {
            let m = field::magnification(g.get("subject_distance_mm")?, g.get("hole_to_film_mm")?);
            Ok(Values::new().with("magnification", m))
        })
        .takes("subject_distance_mm", of::<SubjectDistance>())
        .takes("hole_to_film_mm", of::<HoleToFilm>()),
        Definition::new("subject_size", &["subject_mm"], |g| {
            let size =
                field::subject_size_mm(g.get("film_mm")?, g.get("subject_distance_mm")?, g.get("hole_to_film_mm")?);
            Ok(Values::new().with("subject_mm", size))
        })
        .takes("film_mm", of::<FilmSide>())
        .takes("subject_distance_mm", of::<SubjectDistance>())
        .takes("hole_to_film_mm", of::<HoleToFilm>()),
    ]
}

fn fall_offs() -> Vec<Definition> {
    vec![
        Definition::new("fall_off_flat", &["relative_illuminance", "loss_stops"], |g| {
            let light = if g.has("angle_deg") {
                fall_off::fall_off_at_angle(g.number("angle_deg")?)
            } else {
                fall_off::fall_off_flat(g.number("x_mm")?, g.number("y_mm")?, g.get("hole_to_film_mm")?)
            };
            Ok(Values::new().with("relative_illuminance", light.as_share()).with("loss_stops", light.loss_stops()))
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
            let open =
                plate::open_share(g.number("angle_deg")?, g.get("hole_diameter_mm")?, g.get("plate_thickness_mm")?);
            Ok(Values::new().with("open_share", open))
        })
        .takes("angle_deg", OFF_AXIS)
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("plate_thickness_mm", of::<PlateThickness>()),
        Definition::new("plate_cut_off", &["cut_off_angle_deg", "image_circle_mm"], |g| {
            let (hole, thickness) = (g.get("hole_diameter_mm")?, g.get("plate_thickness_mm")?);
            let angle = plate::cut_off_angle_deg(hole, thickness);
            let values = Values::new().with("cut_off_angle_deg", angle);
            Ok(match g.find("hole_to_film_mm")? {
                Some(v) => values.with("image_circle_mm", plate::cut_off_circle_mm(v, hole, thickness)),
                None => values,
            })
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("plate_thickness_mm", of::<PlateThickness>())
        .may_take("hole_to_film_mm", of::<HoleToFilm>()),
        Definition::new("image_circle", &["image_circle_mm"], |g| {
            let (v, loss) = (g.get("hole_to_film_mm")?, g.number("loss_stops")?);
            let circle = match (g.find("hole_diameter_mm")?, g.find("plate_thickness_mm")?) {
                (None, None) => plate::image_circle_mm(v, loss),
                (Some(hole), Some(plate)) => plate::image_circle_in_plate_mm(v, loss, hole, plate),
                (None, Some(_)) => return Err(pair("hole_diameter_mm", of::<HoleDiameter>())),
                (Some(_), None) => return Err(pair("plate_thickness_mm", of::<PlateThickness>())),
            };
            Ok(Values::new().with("image_circle_mm", circle))
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

fn fall_off_curved(g: &Given) -> Result<Values, Refusal> {
    let can = inside(g)?;
    let arc = g.number("arc_mm")?;
    // Further round the wall than to the hole's own side there is no film to fall on.
    let half = can.radius_mm() * std::f64::consts::PI;
    within("arc_mm", arc, -0.999 * half, 0.999 * half)?;
    let hole_radius = if g.has("hole_radius_mm") { g.number("hole_radius_mm")? } else { can.radius_mm() };
    let point = fall_off::fall_off_curved_from(arc, g.number("height_mm")?, can.radius_mm(), hole_radius);
    Ok(Values::new()
        .with("relative_illuminance", point.relative.as_share())
        .with("azimuth_deg", point.azimuth_deg)
        .with("elevation_deg", point.elevation_deg))
}

fn sizes() -> Vec<Definition> {
    let tool = number(0.01, 20.0, "mm");
    vec![
        Definition::new("wire_gauge", &["diameter_mm"], |g| {
            Ok(Values::new().with("diameter_mm", gauges::wire_gauge_mm(g.whole("awg")?)))
        })
        .takes("awg", Kind::Whole { min: 0, max: gauges::THINNEST_WIRE }),
        Definition::new("nearest_wire_gauge", &["awg"], |g| {
            Ok(Values::new().with("awg", gauges::nearest_wire_gauge(g.number("diameter_mm")?)))
        })
        .takes("diameter_mm", tool.clone()),
        Definition::new("number_drill", &["diameter_mm"], |g| {
            let diameter = gauges::number_drill_mm(g.whole("number")?);
            Ok(Values::new().with("diameter_mm", diameter))
        })
        .takes("number", Kind::Whole { min: gauges::FIRST_DRILL, max: gauges::LAST_DRILL }),
        Definition::new("nearest_number_drill", &["number"], |g| {
            Ok(Values::new().with("number", gauges::nearest_number_drill(g.number("diameter_mm")?)))
        })
        .takes("diameter_mm", tool),
        Definition::new("machine_needle", &["diameter_mm"], |g| {
            Ok(Values::new().with("diameter_mm", gauges::machine_needle_mm(g.number("nm")?)))
        })
        .takes("nm", number(10.0, 400.0, "")),
        Definition::new("tube_gauge", &["diameter_mm"], |g| {
            Ok(Values::new().with("diameter_mm", gauges::tube_gauge_mm(g.whole("gauge")?)))
        })
        .takes("gauge", Kind::Whole { min: gauges::FIRST_TUBE, max: gauges::LAST_TUBE }),
        Definition::new("needle_mark", &["mark_from_point_mm", "micrometer_mm", "micrometer_in", "working"], |g| {
            let (hole, shaft) = (g.get("hole_diameter_mm")?, g.get("shaft_diameter_mm")?);
            let (taper, point) = (g.get("taper_length_mm")?, g.get("point_diameter_mm")?);
            let off_taper = |error| Refusal::of("hole_diameter_mm", error);
            let mark = micrometer::needle_mark_mm(hole, shaft, taper, point).map_err(off_taper)?;
            let working = micrometer::needle_mark_working(hole, shaft, taper, point).map_err(off_taper)?;
            let setting = micrometer::MicrometerSetting::of(hole);
            Ok(Values::new()
                .with("mark_from_point_mm", mark)
                .with("micrometer_mm", setting.as_mm())
                .with("micrometer_in", setting.as_inches())
                .with_working(working))
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("shaft_diameter_mm", of::<ShaftDiameter>())
        .takes("taper_length_mm", of::<TaperLength>())
        .defaults("point_diameter_mm", of::<PointDiameter>(), Item::Number(0.0)),
    ]
}

fn measurements() -> Vec<Definition> {
    let (min, max) = (HoleDiameter::MIN, HoleDiameter::MAX);
    vec![
        Definition::new("hole_readings", &["hole_diameter_mm", "ovalness", "uncertainty_mm", "working"], |g| {
            let given = g.numbers("readings_mm")?;
            let given: Result<Vec<_>, _> = given.into_iter().map(HoleDiameter::new).collect();
            let given = given.map_err(|error| Refusal::of("readings_mm", error))?;
            let measured = readings::hole_readings(&given, g.get("instrument_uncertainty_mm")?)
                .map_err(|error| Refusal::of("readings_mm", error))?;
            Ok(Values::new()
                .with("hole_diameter_mm", measured.diameter.as_mm())
                .with("ovalness", measured.ovalness)
                .with("uncertainty_mm", measured.uncertainty_mm)
                .with_working(measured.working(&given)))
        })
        .takes("readings_mm", Kind::Numbers { min, max, unit: "mm", least: 2 })
        .takes("instrument_uncertainty_mm", of::<InstrumentUncertainty>()),
        Definition::new("scan_diameter", &["hole_diameter_mm"], |g| {
            let diameter = scan::scan_diameter_mm(g.number("area_px")?, g.number("dpi")?);
            Ok(Values::new().with("hole_diameter_mm", diameter))
        })
        .takes("area_px", number(1.0, 1e9, "pixels"))
        .takes("dpi", DPI),
        Definition::new("scan_uncertainty", &["lattice_mm"], |g| {
            let hole = g.get::<HoleDiameter>("hole_diameter_mm")?.as_mm();
            let lattice = scan::lattice_uncertainty_mm(hole, g.number("dpi")?);
            Ok(Values::new().with("lattice_mm", lattice))
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("dpi", DPI),
        Definition::new("ellipse_circularity", &["circularity"], |g| {
            let circularity = scan::ellipse_circularity(g.number("major_mm")?, g.number("minor_mm")?);
            Ok(Values::new().with("circularity", circularity))
        })
        .takes("major_mm", number(0.001, 100.0, "mm"))
        .takes("minor_mm", number(0.001, 100.0, "mm")),
    ]
}

const DPI: Kind = number(50.0, 25_400.0, "");
