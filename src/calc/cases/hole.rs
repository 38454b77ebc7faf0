//! Definitions: the hole by formula, its tools and its measurement.

use super::definition::{Definition, Kind, Refusal, Values, number, of};
use super::field::within_the_camera;
use super::given::Item;
use crate::calc::imaging::scan;
use crate::calc::optics::{field, gauges, hole_formula, micrometer, readings};
use crate::calc::quantity::{
    FNumber, HoleConstant, HoleDiameter, HoleToFilm, InstrumentUncertainty, PointDiameter, ShaftDiameter,
    SubjectDistance, TaperLength, Wavelength,
};

pub fn definitions() -> Vec<Definition> {
    let mut all = formulas();
    all.extend(sizes());
    all.extend(measurements());
    all
}

fn formulas() -> Vec<Definition> {
    vec![
        Definition::new("hole_diameter", &["hole_diameter_mm"], |g| {
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
        Definition::new("associated_focal_length", &["focal_length_mm"], |g| {
            let (hole, nm, c) = (g.get("hole_diameter_mm")?, g.get("wavelength_nm")?, g.get("constant")?);
            Ok(Values::new()
                .with("focal_length_mm", hole_formula::associated_focal_length(hole, nm, c).as_mm())
                .with_working(hole_formula::associated_focal_length_working(hole, nm, c)))
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("wavelength_nm", of::<Wavelength>())
        .defaults("constant", of::<HoleConstant>(), Item::Number(1.9)),
        Definition::new("f_number", &["f_number"], |g| {
            within_the_camera(g)?;
            let (v, hole) = (g.get("hole_to_film_mm")?, g.get("hole_diameter_mm")?);
            Ok(Values::new()
                .with("f_number", field::f_number(v, hole).as_number())
                .with_working(field::f_number_working(v, hole)))
        })
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .takes("hole_diameter_mm", of::<HoleDiameter>()),
        Definition::new("time_factor", &["factor"], |g| {
            within_the_camera(g)?;
            let n = field::f_number(g.get("hole_to_film_mm")?, g.get("hole_diameter_mm")?);
            let reference = g.get("reference_f_number")?;
            Ok(Values::new()
                .with("factor", field::time_factor(n, reference))
                .with_working(field::time_factor_working(n, reference)))
        })
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("reference_f_number", of::<FNumber>()),
        Definition::new("geometric_blur", &["diameter_mm"], |g| {
            within_the_camera(g)?;
            let (hole, v) = (g.get("hole_diameter_mm")?, g.get("hole_to_film_mm")?);
            let u = g.find("subject_distance_mm")?;
            Ok(Values::new()
                .with("diameter_mm", hole_formula::geometric_blur_mm(hole, v, u))
                .with_working(hole_formula::geometric_blur_working(hole, v, u)))
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .may_take("subject_distance_mm", of::<SubjectDistance>()),
        Definition::new("airy_radius", &["radius_mm"], |g| {
            within_the_camera(g)?;
            let (hole, v) = (g.get("hole_diameter_mm")?, g.get("hole_to_film_mm")?);
            let nm = g.get("wavelength_nm")?;
            Ok(Values::new()
                .with("radius_mm", hole_formula::airy_radius_mm(hole, v, nm))
                .with_working(hole_formula::airy_radius_working(hole, v, nm)))
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .takes("wavelength_nm", of::<Wavelength>()),
    ]
}

fn sizes() -> Vec<Definition> {
    let tool = number(0.01, 20.0, "mm");
    vec![
        Definition::new("wire_gauge", &["diameter_mm"], |g| {
            let awg = g.whole("awg")?;
            Ok(Values::new()
                .with("diameter_mm", gauges::wire_gauge_mm(awg))
                .with_working(gauges::wire_gauge_working(awg)))
        })
        .takes("awg", Kind::Whole { min: 0, max: gauges::THINNEST_WIRE }),
        Definition::new("nearest_wire_gauge", &["awg"], |g| {
            let mm = g.number("diameter_mm")?;
            Ok(Values::new()
                .with("awg", gauges::nearest_wire_gauge(mm))
                .with_working(gauges::nearest_wire_gauge_working(mm)))
        })
        .takes("diameter_mm", tool.clone()),
        Definition::new("number_drill", &["diameter_mm"], |g| {
            let number = g.whole("number")?;
            let working = gauges::number_drill_working(number).ok_or_else(|| not_tabled("number"))?;
            Ok(Values::new().with("diameter_mm", gauges::number_drill_mm(number)).with_working(working))
        })
        .takes("number", Kind::Whole { min: gauges::FIRST_DRILL, max: gauges::LAST_DRILL }),
        Definition::new("nearest_number_drill", &["number"], |g| {
            let mm = g.number("diameter_mm")?;
            Ok(Values::new()
                .with("number", gauges::nearest_number_drill(mm))
                .with_working(gauges::nearest_number_drill_working(mm)))
        })
        .takes("diameter_mm", tool),
        Definition::new("machine_needle", &["diameter_mm"], |g| {
            let nm = g.number("nm")?;
            Ok(Values::new()
                .with("diameter_mm", gauges::machine_needle_mm(nm))
                .with_working(gauges::machine_needle_working(nm)))
        })
        .takes("nm", number(10.0, 400.0, "")),
        Definition::new("tube_gauge", &["diameter_mm"], |g| {
            let gauge = g.whole("gauge")?;
            let working = gauges::tube_gauge_working(gauge).ok_or_else(|| not_tabled("gauge"))?;
            Ok(Values::new().with("diameter_mm", gauges::tube_gauge_mm(gauge)).with_working(working))
        })
        .takes("gauge", Kind::Whole { min: gauges::FIRST_TUBE, max: gauges::LAST_TUBE }),
        Definition::new("needle_mark", &["mark_from_point_mm", "micrometer_mm", "micrometer_in"], |g| {
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

/// The ranges of the inputs are those of the tables, so that nobody meets this.
fn not_tabled(field: &'static str) -> Refusal {
    Refusal::of(field, "is not in the table")
}

fn measurements() -> Vec<Definition> {
    let (min, max) = (HoleDiameter::MIN, HoleDiameter::MAX);
    vec![
        Definition::new("hole_readings", &["hole_diameter_mm", "ovalness", "uncertainty_mm"], |g| {
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
            let (area, dpi) = (g.number("area_px")?, g.number("dpi")?);
            Ok(Values::new()
                .with("hole_diameter_mm", scan::scan_diameter_mm(area, dpi))
                .with_working(scan::scan_diameter_working(area, dpi)))
        })
        .takes("area_px", number(1.0, 1e9, "pixels"))
        .takes("dpi", DPI),
        Definition::new("scan_uncertainty", &["lattice_mm"], |g| {
            let hole = g.get::<HoleDiameter>("hole_diameter_mm")?.as_mm();
            let dpi = g.number("dpi")?;
            Ok(Values::new()
                .with("lattice_mm", scan::lattice_uncertainty_mm(hole, dpi))
                .with_working(scan::lattice_uncertainty_working(hole, dpi)))
        })
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("dpi", DPI),
        Definition::new("ellipse_circularity", &["circularity"], |g| {
            let (major, minor) = (g.number("major_mm")?, g.number("minor_mm")?);
            Ok(Values::new()
                .with("circularity", scan::ellipse_circularity(major, minor))
                .with_working(scan::ellipse_circularity_working(major, minor)))
        })
        .takes("major_mm", number(0.001, 100.0, "mm"))
        .takes("minor_mm", number(0.001, 100.0, "mm")),
    ]
}

const DPI: Kind = number(50.0, 25_400.0, "");
