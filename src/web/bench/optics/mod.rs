//! What the hole does: its sharpness against the best, the picture it would draw, the field and how the light falls
//! off. Nothing is stored here; the target stays the session's formula.

mod field;
pub mod seen;
pub mod sharpest;

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    calc::{
        optics::{
            diffraction::{Film, Spectrum},
            fall_off::fall_off_curved,
            sharpness::{Sharpness, finest_at_edge_working},
        },
        quantity::{HoleDiameter, PlateThickness},
    },
    domain::{
        camera::{Camera, Geometry},
        hole::Hole,
        length::{LengthUnit, computed_words},
        own_figure::Figure,
        target::Target,
    },
    drawing::{
        camera_section::CameraSection, fall_off_map::FallOffMap, plate_section::PlateSection,
        sharpness_curve::SharpnessCurve,
    },
    store::{cameras, holes},
    web::{
        access::{Access, Bench},
        error::WebError,
        frame::Frame,
        page::Page,
        reading::Reading,
        routes::{Route, page},
        state::AppState,
    },
};

use super::{at_bench, hole::NoCamera};

use self::{seen::View, sharpest::SharpestAside};

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
    curve: SharpnessCurve,
    aside: SharpestAside,
    light: &'static str,
    views: Vec<View>,
    field: Vec<Reading>,
    fall_off: FallOffMap,
    bored: bool,
    section: CameraSection,
    plate: Option<PlateSection>,
    plate_edit: Option<String>,
}

/// A camera with its target and its hole.
struct Setup {
    camera: Camera,
    target: Target,
    hole: Option<Hole>,
}

impl Setup {
    async fn load(state: &AppState, bench: &Bench) -> Result<Option<Self>, WebError> {
        let mut conn = state.store.read().await?;
        let Some(camera) = cameras::find_of_student(&mut conn, bench.student).await? else {
            return Ok(None);
        };
        let here = at_bench::formula_here(&mut conn, bench.section).await?;
        let hole = holes::find_latest(&mut conn, camera.id).await?;
        let target = Target::of(&camera, here.formula);
        Ok(Some(Self { camera, target, hole }))
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
    let Setup { camera, target, hole } = &setup;
    let (unit, sharpness) = (bench.unit(), setup.sharpness());
    let measured = hole.as_ref().map(Hole::diameter);
    let shown = OpticsPage {
        number: camera.number,
        measured: measured.is_some(),
        hole: computed_words(setup.diameter().as_mm(), 3, unit),
        sharpness: sharpness_readings(&setup, &sharpness, unit),
        curve: SharpnessCurve::of("sharpness", &sharpness, target.hole, measured, unit),
        aside: SharpestAside::of(camera, *target, &sharpness, unit),
        light: seen::light_words(camera),
        views: seen::views(&setup, &sharpness, unit),
        field: field::readings(&setup, &bench)?,
        fall_off: FallOffMap::of("fall-off", &camera.body, setup.plate()),
        bored: setup.plate().is_some(),
        section: CameraSection::of(&camera.body, "camera"),
        plate: setup
            .plate()
            .map(|(hole, plate)| PlateSection::of("plate-cut", hole, plate, camera.body.edge_angle_deg(), unit)),
        plate_edit: hole.as_ref().map(|hole| format!("/bench/hole/{}/edit", hole.id)),
        frame,
    };
    Ok(Page::new(shown).into_response())
}

fn sharpness_readings(setup: &Setup, sharpness: &Sharpness, unit: LengthUnit) -> Vec<Reading> {
    let hole = setup.diameter();
    let body = &setup.camera.body;
    let spot = sharpness.spot_working(hole);
    let mut readings = vec![
        Reading::of(sharpness.share_working(hole)).remark(sharpest::softness_words(sharpness.share(hole))),
        Reading::of(sharpness.finest_lines_working(hole)).remark("finer ones keep less than a fifth of their contrast"),
    ];
    let (film, angle) = match body.geometry() {
        Geometry::Curved(arc, _, inside) => {
            (Film::Curved(inside), fall_off_curved(arc.as_mm() / 2.0, 0.0, inside).azimuth_deg)
        }
        Geometry::FlatRectangle(..) | Geometry::FlatDisc(_) => (Film::Flat(body.hole_to_film()), body.edge_angle_deg()),
    };
    let light = Spectrum::single(setup.target.formula.wavelength);
    let at_edge = finest_at_edge_working(hole, film, setup.camera.subject_distance(), light, angle.abs().min(85.0));
    readings.extend(at_edge.map(|working| {
        Reading::of(working).remark(match film {
            Film::Flat(_) => "of lines round the middle, and of lines that point at it, at the furthest point",
            Film::Curved(_) => "of upright lines, and of level ones, at the ends of the arc",
        })
    }));
    readings.push(
        match unit {
            LengthUnit::Millimetre => Reading::of(spot),
            LengthUnit::Inch => {
                let across = sharpness.spot_mm(hole);
                Reading::of(spot).showing(format!("{} across", computed_words(across, 2, unit)))
            }
        }
        .remark("in which four fifths of a point’s light fall"),
    );
    readings
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
    state.pictures.answer(key, image).await
}
