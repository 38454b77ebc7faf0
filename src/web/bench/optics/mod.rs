//! What the hole does: its sharpness against the best, the picture it would draw, the field and how the light falls
//! off. Nothing is stored here; the target stays the session's formula.

mod field;
mod how_sharp;
pub mod seen;
pub mod sharpest;

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::lab::evening::session::FormulaHere;
use crate::{
    calc::{
        optics::{diffraction::Spectrum, sharpness::Sharpness},
        quantity::{HoleDiameter, PlateThickness},
    },
    domain::{
        camera::{Camera, hole::Hole, target::Target},
        marking::own_figure::Figure,
        measure::length::computed_words,
        stock::film_light::FilmLight,
    },
    drawing::{
        camera_section::CameraSection, fall_off_map::FallOffMap, plate_section::PlateSection,
        sharpness_curve::SharpnessCurve,
    },
    store::camera::{cameras, holes},
    web::kit::{
        access::{Access, Bench},
        error::WebError,
        frame::Frame,
        page::Page,
        reading::Reading,
        routes::{Route, page},
        state::AppState,
    },
};

use super::no_camera::NoCamera;

use self::{
    seen::{Piece, View},
    sharpest::SharpestAside,
};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![page("/bench/hole/optics", Access::Bench, show), page("/bench/hole/optics/seen/{key}", Access::Bench, picture)]
}

/// The page.
#[derive(Template)]
#[template(path = "bench/optics.html")]
struct OpticsPage {
    frame: Frame,
    number: i64,
    measured: bool,
    /// The hole all of it is worked out for, in words.
    hole: String,
    sharpness: Vec<Reading>,
    /// "paper" or "film", and the light it sees.
    holder: &'static str,
    light: &'static str,
    known_from: &'static str,
    in_band: Vec<Reading>,
    curve: SharpnessCurve,
    aside: SharpestAside,
    piece: Piece,
    views: Vec<View>,
    field: Vec<Reading>,
    fall_off: FallOffMap,
    lines: Vec<String>,
    bored: bool,
    section: CameraSection,
    side: Option<CameraSection>,
    plate: Option<PlateSection>,
    plate_edit: Option<String>,
}

/// A camera with its target and its hole.
struct Setup {
    camera: Camera,
    target: Target,
    hole: Option<Hole>,
    /// The light that draws the picture.
    light: FilmLight,
}

impl Setup {
    async fn load(state: &AppState, bench: &Bench) -> Result<Option<Self>, WebError> {
        let mut conn = state.store.read().await?;
        let Some(camera) = cameras::find_of_student(&mut conn, bench.student).await? else {
            return Ok(None);
        };
        let here = FormulaHere::find(&mut conn, bench.section).await?;
        let hole = holes::find_latest(&mut conn, camera.id).await?;
        let target = Target::of(&camera, here.formula);
        let light = here.film_light(&camera);
        Ok(Some(Self { camera, target, hole, light }))
    }

    /// The hole as measured, or else the target.
    fn diameter(&self) -> HoleDiameter {
        self.hole.as_ref().map_or(self.target.hole, Hole::diameter)
    }

    fn plate(&self) -> Option<(HoleDiameter, PlateThickness)> {
        let thickness = self.hole.as_ref().and_then(Hole::plate_thickness)?;
        Some((self.diameter(), thickness))
    }

    /// Sharpness in the light of the session's formula.
    fn sharpness(&self) -> Sharpness {
        sharpness_of(&self.camera, self.target)
    }
}

/// Sharpness of holes in a camera, in the light of the session's formula.
pub fn sharpness_of(camera: &Camera, target: Target) -> Sharpness {
    Sharpness::of(camera.hole_to_film(), camera.subject_distance(), Spectrum::single(target.formula.wavelength))
}

async fn show(State(state): State<AppState>, frame: Frame, bench: Bench) -> Result<Response, WebError> {
    let Some(setup) = Setup::load(&state, &bench).await? else {
        return Ok(Page::new(NoCamera { frame, heading: "What the hole does" }).into_response());
    };
    // for a short camera with a wide hole this takes seconds: away from the threads that answer everybody
    let person = bench.student.to_string();
    let shown = state.optics.run(&person, move || page_of(&setup, frame, &bench)).await??;
    Ok(Page::new(shown).into_response())
}

fn page_of(setup: &Setup, frame: Frame, bench: &Bench) -> Result<OpticsPage, WebError> {
    let Setup { camera, target, hole, light } = setup;
    let (unit, sharpness) = (bench.unit(), setup.sharpness());
    let measured = hole.as_ref().map(Hole::diameter);
    let [curve, with_sharpest] =
        SharpnessCurve::pair(["sharpness", "sharpest"], &sharpness, target.hole, measured, unit);
    let fall_off = FallOffMap::of("fall-off", &camera.body, setup.plate());
    Ok(OpticsPage {
        number: camera.number,
        measured: measured.is_some(),
        hole: computed_words(setup.diameter().as_mm(), 3, unit),
        sharpness: how_sharp::readings(setup, &sharpness, unit)?,
        holder: light.holder(),
        light: light.words(),
        known_from: light.known_from(),
        in_band: how_sharp::in_band(setup, unit),
        curve,
        aside: SharpestAside::of(camera, *target, &sharpness, *light, unit).with_curve(with_sharpest),
        piece: Piece::of(camera),
        views: seen::views(setup, &sharpness, unit),
        field: field::readings(setup, bench)?,
        lines: field::line_workings(setup, fall_off.levels()),
        fall_off,
        bored: setup.plate().is_some(),
        section: CameraSection::of(&camera.body, "camera"),
        side: CameraSection::from_side(&camera.body, "camera-side"),
        plate: setup
            .plate()
            .map(|(hole, plate)| PlateSection::of("plate-cut", hole, plate, camera.body.edge_angle_deg(), unit)),
        plate_edit: hole.as_ref().map(|hole| format!("/bench/hole/{}/edit", hole.id)),
        frame,
    })
}

/// One of the three pictures of this student's own camera.
async fn picture(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(key): Path<String>,
) -> Result<Response, WebError> {
    if !frame.held.shows(Figure::HoleDiameter) {
        return Err(WebError::NotFound("this picture"));
    }
    let setup = Setup::load(&state, &bench).await?.ok_or(WebError::NotFound("this picture"))?;
    let image = seen::image_of(&setup, &setup.sharpness(), &key).ok_or(WebError::NotFound("this picture"))?;
    let person = bench.student.to_string();
    state.pictures.answer(&state.optics, &person, key, image, seen::figure(&setup.camera)).await
}
