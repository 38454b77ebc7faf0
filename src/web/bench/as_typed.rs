//! What follows from measures that are still being typed: the same code as the full pages, as a
//! fragment that a script asks for. Without a script the form leads to the full page.

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};

use crate::lab::evening::session::FormulaHere;
use crate::{
    domain::{
        camera::{
            Camera,
            hole::Hole,
            target::{Target, aperture_working, view_working},
        },
        marking::own_figure::{Figure, Reveals},
        measure::length::computed_words,
    },
    drawing::{camera_section::CameraSection, hole_plate::HolePlate},
    store::camera::cameras,
    web::{
        kit::{
            access::{Access, Bench},
            error::WebError,
            frame::Frame,
            page::Page,
            reading::Reading,
            routes::{Route, page},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::at_bench;
use crate::web::fields::{camera_fields as dimensions, hole_fields as measured};

/// The routes of these fragments.
pub fn routes() -> Vec<Route> {
    vec![page("/bench/camera/as-typed", Access::Bench, camera), page("/bench/hole/as-typed", Access::Bench, hole)]
}

/// What follows from measures.
#[derive(Template)]
#[template(path = "bench/as_typed.html")]
pub(super) struct AsTyped<D: Template> {
    /// What is held back here is held back on the full page too.
    pub(super) frame: Frame,
    pub(super) readings: Vec<Reading>,
    pub(super) drawing: Option<D>,
    /// What is still missing, in words.
    pub(super) missing: &'static str,
}

/// The target of a camera as its measures stand in the form.
async fn camera(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let Ok(read) = dimensions::read(&posted, bench.unit()) else {
        let missing = "The hole to make appears here as you type, and the camera to scale.";
        return Ok(
            Page::new(AsTyped::<CameraSection> { frame, readings: Vec::new(), drawing: None, missing }).into_response()
        );
    };
    let mut conn = state.store.read().await?;
    let here = FormulaHere::find(&mut conn, bench.section).await?;
    let typed = Camera {
        id: state.mint(),
        section: bench.section,
        number: 0,
        body: read.body,
        subject: read.subject,
        remark: String::new(),
        created_at: posted.at(),
        version: 0,
    };
    let target = Target::of(&typed, here.formula);
    let mut readings = vec![
        Reading::of(target.hole_working(&typed), Reveals::HOLE)
            .named("Hole diameter to make")
            .showing(computed_words(target.hole.as_mm(), 3, bench.unit()))
            .remark(format!("micrometer {}", at_bench::micrometer_words(target, bench.unit())[0])),
        Reading::of(aperture_working(&typed.body, target.hole), Reveals::TARGET).named("f-number of the target"),
        Reading::of(view_working(&typed.body), Reveals::ANGLE),
    ];
    readings.extend(dimensions::larger_than_life(&typed));
    // the drawing tells the angle of view
    let drawing = frame.held.shows(Figure::AngleOfView).then(|| CameraSection::of(&typed.body, "as-typed"));
    Ok(Page::new(AsTyped { frame, readings, drawing, missing: "" }).into_response())
}

/// What readings of a hole give.
async fn hole(State(state): State<AppState>, frame: Frame, bench: Bench, posted: Posted) -> Result<Response, WebError> {
    let nothing = |frame, missing| AsTyped::<HolePlate> { frame, readings: Vec::new(), drawing: None, missing };
    let mut conn = state.store.read().await?;
    let Some(camera) = cameras::find_of_student(&mut conn, bench.student).await? else {
        return Ok(Page::new(nothing(frame, "Register your camera first.")).into_response());
    };
    let Ok(read) = measured::read(&posted, bench.unit(), camera.hole_to_film()) else {
        return Ok(Page::new(nothing(frame, "Diameter and f-number appear here as you type.")).into_response());
    };
    let here = FormulaHere::find(&mut conn, bench.section).await?;
    let target = Target::of(&camera, here.formula);
    let typed = Hole {
        id: state.mint(),
        camera: camera.id,
        measurement: read.measurement,
        plate: read.plate,
        remark: String::new(),
        measured_at: posted.at(),
        recorded_by: bench.student.into(),
        version: 0,
    };
    let readings = measured::readings(&typed, &camera, target, bench.unit());
    let dashed = frame.held.shows(Figure::HoleDiameter).then_some(target.hole);
    let drawing = Some(HolePlate::of("as-typed", dashed, typed.measurement.diameters(), bench.unit()));
    Ok(Page::new(AsTyped { frame, readings, drawing, missing: "" }).into_response())
}
