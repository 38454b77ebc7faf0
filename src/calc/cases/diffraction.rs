//! Definitions: what diffraction makes of a hole.

use super::definition::{Definition, Input, Kind, Need, Refusal, Values, Worked, number, of};
use super::field::{INSIDE_RADIUS, inside, within, within_the_camera};
use super::given::{Given, Item};
use crate::calc::optics::diffraction::{
    BandShape, Criterion, Diffraction, Direction, Film, NotABand, ObliqueSpread, Spectrum, sharpest_hole,
    sharpest_hole_working, tolerance,
};
use crate::calc::quantity::{FieldAngle, HoleDiameter, HoleToFilm, SubjectDistance, Wavelength};

/// How far from the image point one may ask, in Lommel's V beyond the geometrical shadow. The rest of
/// the energy is then about one part in a hundred thousand.
const FURTHEST_V: f64 = 50_000.0;
/// The same for the brightness at a point in a band of light, whose rings all have to be followed.
const FURTHEST_V_IN_BAND: f64 = 5000.0;

pub fn definitions() -> Vec<Definition> {
    vec![
        lit(Definition::new("sharpest_hole", &SHARPEST, |g| {
            let (v, u, light) = (g.get("hole_to_film_mm")?, g.find("subject_distance_mm")?, light(g)?);
            let criterion = criterion(g.choice("criterion")?);
            let best = sharpest_hole(v, u, light, criterion);
            let [least, greatest] = tolerance(v, u, light, criterion, best);
            Ok(Values::new()
                .with("hole_diameter_mm", best.hole.as_mm())
                .with("constant", best.constant.as_number())
                .with("mean_wavelength_nm", light.mean_mm() * 1e6)
                .with("within_a_tenth_from_mm", least.as_mm())
                .with("within_a_tenth_to_mm", greatest.as_mm())
                .with_working(sharpest_hole_working(v, u, light, criterion, best, [least, greatest])))
        })
        .takes("hole_to_film_mm", of::<HoleToFilm>()))
        .defaults("criterion", Kind::Choice(&CRITERIA), Item::Choice("edge")),
        on_axis("fresnel_number", &["fresnel_number"], |g| {
            let image = image(g)?;
            Ok(Values::new()
                .with("fresnel_number", image.fresnel_number())
                .with_working(image.fresnel_number_working()))
        }),
        on_or_off_axis("point_spread", &["relative_intensity", "density_per_mm2"], point_spread)
            .takes("radius_mm", RADIUS),
        on_or_off_axis("transfer", &["otf"], |g| {
            let (image, frequency) = (any_image(g)?, g.number("frequency_per_mm")?);
            Ok(Values::new().with("otf", image.transfer(frequency)).with_working(image.transfer_working(
                frequency,
                angle_deg(g)?,
                direction(g)?,
            )))
        })
        .takes("frequency_per_mm", number(0.0, 10_000.0, "per mm")),
        on_or_off_axis("contrast_limit", &["frequency_per_mm"], |g| {
            let (image, level) = (any_image(g)?, g.number("level")?);
            let limit = image.contrast_limit(level);
            Ok(Values::new().with("frequency_per_mm", limit).with_working(image.contrast_limit_working(
                level,
                limit,
                angle_deg(g)?,
                direction(g)?,
            )))
        })
        .takes("level", number(0.01, 0.99, "")),
        at_any_angle("encircled_energy", &["share"], |g| {
            let (share, working) = if on_the_axis(g)? {
                let image = image_on_axis(g)?;
                let radius = radius(g, &image, FURTHEST_V)?;
                let share = image.encircled_energy(radius);
                (share, image.encircled_energy_working(radius, share))
            } else {
                let image = oblique(g)?;
                let radius = oblique_radius(g, &image, FURTHEST_V)?;
                let share = image.encircled_energy(radius);
                (share, image.encircled_energy_working(radius, share, angle_deg(g)?))
            };
            Ok(Values::new().with("share", share).with_working(working))
        })
        .takes("radius_mm", RADIUS),
        at_any_angle("encircled_radius", &["radius_mm"], |g| {
            let share = g.number("share")?;
            let (radius, working) = if on_the_axis(g)? {
                let image = image_on_axis(g)?;
                let radius = image.encircled_radius(share);
                (radius, image.encircled_radius_working(share, radius))
            } else {
                let image = oblique(g)?;
                let radius = image.encircled_radius(share);
                (radius, image.encircled_radius_working(share, radius, angle_deg(g)?))
            };
            Ok(Values::new().with("radius_mm", radius).with_working(working))
        })
        .takes("share", number(0.01, 0.99, "")),
    ]
}

fn point_spread(g: &Given) -> Result<Worked, Refusal> {
    let furthest_v = if g.has("spectrum") { FURTHEST_V_IN_BAND } else { FURTHEST_V };
    let (spread, working) = if on_the_axis(g)? {
        let image = any_image(g)?;
        image.point_spread_working(radius(g, &image, furthest_v)?)
    } else {
        let direction = direction(g)?;
        let image = oblique(g)?;
        image.point_spread_working(oblique_radius(g, &image, furthest_v)?, angle_deg(g)?, direction)
    };
    Ok(Values::new()
        .with("relative_intensity", spread.relative_intensity)
        .with("density_per_mm2", spread.density_per_mm2)
        .with_working(working))
}

const SHARPEST: [&str; 5] =
    ["hole_diameter_mm", "constant", "mean_wavelength_nm", "within_a_tenth_from_mm", "within_a_tenth_to_mm"];
const RADIUS: Kind = number(0.0, 100_000.0, "mm");
const CRITERIA: [&str; 6] = ["edge", "mtf 0.5", "mtf 0.2", "mtf 0.1", "energy 0.5", "energy 0.8"];

fn criterion(name: &str) -> Criterion {
    match name {
        "mtf 0.5" => Criterion::Contrast(0.5),
        "mtf 0.2" => Criterion::Contrast(0.2),
        "mtf 0.1" => Criterion::Contrast(0.1),
        "energy 0.5" => Criterion::Energy(0.5),
        "energy 0.8" => Criterion::Energy(0.8),
        _ => Criterion::Edge,
    }
}

/// The inputs that every image on the axis has.
fn on_axis(
    quantity: &'static str,
    outputs: &'static [&'static str],
    compute: fn(&Given) -> Result<Worked, Refusal>,
) -> Definition {
    lit(Definition::new(quantity, outputs, compute)
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("hole_to_film_mm", of::<HoleToFilm>()))
}

/// Light and subject.
fn lit(definition: Definition) -> Definition {
    let band = vec![
        Input::required("from_nm", of::<Wavelength>()),
        Input::required("to_nm", of::<Wavelength>()),
        Input { name: "shape", kind: Kind::Choice(&["flat", "triangular", "d55"]), need: Need::Required },
    ];
    definition
        .defaults("wavelength_nm", of::<Wavelength>(), Item::Number(550.0))
        .may_take("spectrum", Kind::Record(band))
        .either(&[&["wavelength_nm"], &["spectrum"]])
        .may_take("subject_distance_mm", of::<SubjectDistance>())
}

fn light(g: &Given) -> Result<Spectrum, Refusal> {
    if !g.has("spectrum") {
        return Ok(Spectrum::single(g.get("wavelength_nm")?));
    }
    let band = g.record("spectrum")?;
    let shape = match band.choice("shape")? {
        "flat" => BandShape::Flat,
        "triangular" => BandShape::Triangular,
        _ => BandShape::DaylightD55,
    };
    Spectrum::band(band.get("from_nm")?, band.get("to_nm")?, shape).map_err(|error| match error {
        NotABand::Reversed => {
            let message = format!("must be greater than from_nm, to {} nm", Wavelength::MAX);
            Refusal::of("spectrum.to_nm", message)
        }
        NotABand::BeyondDaylight => Refusal::of("spectrum.shape", error),
    })
}

fn image(g: &Given) -> Result<Diffraction, Refusal> {
    within_the_camera(g)?;
    Diffraction::new(g.get("hole_diameter_mm")?, g.get("hole_to_film_mm")?, g.find("subject_distance_mm")?, light(g)?)
        .map_err(|error| Refusal::of("hole_diameter_mm", error))
}

fn radius(g: &Given, image: &Diffraction, furthest_v: f64) -> Result<f64, Refusal> {
    let radius = g.number("radius_mm")?;
    within("radius_mm", radius, 0.0, image.radius_beyond_shadow_mm(furthest_v))?;
    Ok(radius)
}

fn oblique_radius(g: &Given, image: &ObliqueSpread, furthest_v: f64) -> Result<f64, Refusal> {
    let radius = g.number("radius_mm")?;
    within("radius_mm", radius, 0.0, image.radius_beyond_shadow_mm(furthest_v))?;
    Ok(radius)
}

fn on_the_axis(g: &Given) -> Result<bool, Refusal> {
    Ok(angle_deg(g)? == 0.0)
}

fn angle_deg(g: &Given) -> Result<f64, Refusal> {
    Ok(g.get::<FieldAngle>("field_angle_deg")?.as_deg())
}

/// The image of a point away from the axis, in both directions at once.
fn oblique(g: &Given) -> Result<ObliqueSpread, Refusal> {
    let (hole, film, subject) = (g.get("hole_diameter_mm")?, film(g)?, g.find("subject_distance_mm")?);
    ObliqueSpread::new(hole, film, subject, light(g)?, g.get("field_angle_deg")?)
        .map_err(|error| Refusal::of("hole_diameter_mm", error))
}

/// The image on the axis of a flat or curved film.
fn image_on_axis(g: &Given) -> Result<Diffraction, Refusal> {
    image_in(g, Direction::Tangential)
}

/// The image on the axis or, in one direction, away from it.
fn any_image(g: &Given) -> Result<Diffraction, Refusal> {
    image_in(g, direction(g)?)
}

/// Which way is looked; on the axis it need not be said.
fn direction(g: &Given) -> Result<Direction, Refusal> {
    Ok(match (g.has("direction"), g.get::<FieldAngle>("field_angle_deg")?.as_deg()) {
        (false, 0.0) => Direction::Tangential,
        (false, _) => {
            let message = "is missing: away from the axis it must be one of: tangential, sagittal";
            return Err(Refusal::of("direction", message));
        }
        (true, _) if g.choice("direction")? == "tangential" => Direction::Tangential,
        (true, _) => Direction::Sagittal,
    })
}

fn image_in(g: &Given, direction: Direction) -> Result<Diffraction, Refusal> {
    let angle = g.get::<FieldAngle>("field_angle_deg")?;
    let (hole, film, subject) = (g.get("hole_diameter_mm")?, film(g)?, g.find("subject_distance_mm")?);
    Diffraction::off_axis(hole, film, subject, light(g)?, angle, direction)
        .map_err(|error| Refusal::of("hole_diameter_mm", error))
}

/// The inputs of what is worked out away from the axis as well, in one direction.
fn on_or_off_axis(
    quantity: &'static str,
    outputs: &'static [&'static str],
    compute: fn(&Given) -> Result<Worked, Refusal>,
) -> Definition {
    at_any_angle(quantity, outputs, compute).may_take("direction", Kind::Choice(&["tangential", "sagittal"]))
}

/// The same where both directions count together.
fn at_any_angle(
    quantity: &'static str,
    outputs: &'static [&'static str],
    compute: fn(&Given) -> Result<Worked, Refusal>,
) -> Definition {
    lit(Definition::new(quantity, outputs, compute)
        .takes("hole_diameter_mm", of::<HoleDiameter>())
        .takes("hole_to_film_mm", of::<HoleToFilm>())
        .takes("inside_radius_mm", INSIDE_RADIUS)
        .either(&[&["hole_to_film_mm"], &["inside_radius_mm"]])
        .defaults("field_angle_deg", of::<FieldAngle>(), Item::Number(0.0))
        .defaults("film", Kind::Choice(&["flat", "curved"]), Item::Choice("flat")))
}

fn film(g: &Given) -> Result<Film, Refusal> {
    match (g.choice("film")?, g.has("inside_radius_mm")) {
        ("flat", false) => {
            within_the_camera(g)?;
            Ok(Film::Flat(g.get("hole_to_film_mm")?))
        }
        ("flat", true) => Err(Refusal::of("film", "must be curved where inside_radius_mm is given")),
        (_, true) => {
            let (can, hole) = (inside(g)?, g.get::<HoleDiameter>("hole_diameter_mm")?);
            if hole.as_mm() >= can.as_mm() {
                let message = format!(
                    "must be from {} to below {} mm, the can's inside diameter",
                    HoleDiameter::MIN,
                    can.as_mm()
                );
                return Err(Refusal::of("hole_diameter_mm", message));
            }
            Ok(Film::Curved(can))
        }
        (_, false) => {
            let message = "cannot be given for curved film: give inside_radius_mm";
            Err(Refusal::of("hole_to_film_mm", message))
        }
    }
}
