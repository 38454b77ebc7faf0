//! The page of a camera: one target, what follows from it, and the camera drawn to scale.

use askama::Template;
use sqlx::SqliteConnection;

use crate::lab::evening::session::FormulaHere;
use crate::{
    calc::{optics::hole_formula::reduced_distance_mm, quantity::SubjectDistance},
    domain::{
        camera::{
            Camera,
            hole::Hole,
            target::{Target, aperture_working, edge_loss_working, picture_reveals, picture_working, view_working},
        },
        instant::Instant,
        measure::length::computed_words,
    },
    drawing::{camera_section::CameraSection, hole_plate::HolePlate},
    store::camera::holes,
    web::kit::{access::Bench, error::WebError, frame::Frame, reading::Reading},
};

use super::super::{
    at_bench,
    optics::{sharpest::SharpestAside, sharpness_of},
    tools::Tools,
};
use crate::domain::marking::own_figure::Reveals;
use crate::web::fields::camera_fields as dimensions;

/// The page of a camera.
#[derive(Template)]
#[template(path = "bench/camera.html")]
pub struct CameraPage {
    frame: Frame,
    number: i64,
    edit: String,
    saved: at_bench::Saved,
    skips_trays: bool,
    partners: Vec<String>,
    formula_from: String,
    target: Vec<Reading>,
    follows: Vec<Reading>,
    measured: bool,
    facts: Vec<(&'static str, String)>,
    remark: String,
    section: CameraSection,
    side: Option<CameraSection>,
    plate: HolePlate,
    tools: Tools,
    aside: SharpestAside,
}

/// Puts the page together.
pub async fn page(
    conn: &mut SqliteConnection,
    frame: Frame,
    bench: &Bench,
    camera: Camera,
    now: Instant,
) -> Result<CameraPage, WebError> {
    let here = FormulaHere::find(conn, bench.section).await?;
    let hole = holes::find_latest(conn, camera.id).await?;
    let target = Target::of(&camera, here.formula);
    let [setting, in_the_other_unit] = at_bench::micrometer_words(target, bench.unit());
    Ok(CameraPage {
        number: camera.number,
        edit: format!("/bench/camera/{}/edit", camera.id),
        saved: at_bench::last_saved(conn, bench.actor(), now).await?,
        skips_trays: !camera.uses_trays(),
        partners: at_bench::partners(conn, camera.id, bench.student).await?,
        formula_from: here.from.clone(),
        target: [
            Reading::of(target.hole_working(&camera), Reveals::HOLE)
                .named("Hole diameter to make")
                .showing(computed_words(target.hole.as_mm(), 3, bench.unit())),
            Reading::of(target.setting().working(), Reveals::HOLE)
                .showing(setting)
                .remark(format!("or {in_the_other_unit}")),
        ]
        .into_iter()
        .chain(dimensions::larger_than_life(&camera))
        .collect(),
        follows: follows(&camera, target, hole.as_ref(), bench)?,
        measured: hole.is_some(),
        facts: dimensions::facts(&camera.body, camera.subject.as_ref()),
        remark: camera.remark.clone(),
        section: CameraSection::of(&camera.body, "camera"),
        side: CameraSection::from_side(&camera.body, "camera-side"),
        plate: HolePlate::of(
            "plate",
            Some(target.hole),
            hole.as_ref().map_or(&[][..], |hole| hole.measurement.diameters()),
            bench.unit(),
        ),
        tools: Tools::near(target.hole, bench.unit()),
        aside: SharpestAside::of(
            &camera,
            target,
            &sharpness_of(&camera, target),
            here.film_light(&camera),
            bench.unit(),
        ),
        frame,
    })
}

/// What follows from the target, or from the hole as measured once there is one.
fn follows(camera: &Camera, target: Target, hole: Option<&Hole>, bench: &Bench) -> Result<Vec<Reading>, WebError> {
    // what the hole's focal length is to be compared with: near by, camera and subject together
    let v = match camera.subject_distance() {
        None => format!("your camera is {}", camera.film().distance().typed),
        Some(subject) => format!(
            "your camera and a subject so near count together as f′ = {} (1/f′ = 1/v + 1/u)",
            computed_words(reduced_distance_mm(camera.hole_to_film(), Some(subject)), 3, bench.unit())
        ),
    };
    let (belongs_to, remark) = match hole {
        Some(hole) => (hole.diameter(), format!("for the hole as measured; {v}")),
        None => (
            target.settable(),
            format!(
                "for a hole of {}, the nearest a micrometer sets; {v}",
                computed_words(target.settable().as_mm(), 2, bench.unit())
            ),
        ),
    };
    let mut readings = Vec::new();
    if let Some(hole) = hole {
        readings.push(
            Reading::of(aperture_working(&camera.body, hole.diameter()), Reveals::F_NUMBER)
                .named("f-number as measured"),
        );
    }
    readings.push(
        Reading::of(aperture_working(&camera.body, target.hole), Reveals::TARGET).named("f-number of the target"),
    );
    readings.push(
        Reading::of(target.focal_length_working(belongs_to), Reveals::HOLE)
            .showing(computed_words(target.focal_length_mm(belongs_to), 3, bench.unit()))
            .remark(format!("{remark}. A longer camera needs a larger hole.")),
    );
    readings.push(Reading::of(view_working(&camera.body), Reveals::ANGLE));
    let (subject, example) = match camera.subject_distance() {
        Some(subject) => (subject, "at your subject's distance".to_owned()),
        None => {
            let (mm, words) = if bench.inches { (4572.0, "15 ft") } else { (5000.0, "5 m") };
            let subject = SubjectDistance::new(mm).map_err(|error| WebError::Ours(error.to_string()))?;
            (subject, format!("of a scene {words} away, for example"))
        }
    };
    readings.push(
        Reading::of(picture_working(&camera.body, subject, bench.unit()), picture_reveals(&camera.body))
            .remark(example),
    );
    readings.push(
        Reading::of(edge_loss_working(&camera.body), Reveals::NOTHING)
            .remark("the edge comes out paler in the negative, darker in the print"),
    );
    Ok(readings)
}
