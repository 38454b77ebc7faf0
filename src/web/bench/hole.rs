//! The hole: how to make it, and the hole as measured.

mod needle;

use std::collections::HashMap;

use askama::Template;
use axum::{
    extract::{Path, Query, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::lab::evening::session::{FormulaHere, zone};
use crate::web::bench::no_camera::NoCamera;
use crate::{
    calc::working::figures,
    domain::{
        camera::{Camera, hole::Hole, target::Target},
        field_errors::FieldErrors,
        ids::{HoleId, StudentId},
        instant::Instant,
        measure::length::{LengthUnit, computed_words},
        people::actor::Actor,
    },
    drawing::{hole_plate::HolePlate, needle::Needle},
    store::{
        Stale, WriteError,
        camera::{cameras, holes},
        people::change_log,
    },
    web::{
        kit::{
            access::{Access, Bench},
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            reading::Reading,
            routes::{Route, change, page},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::{
    at_bench,
    optics::{sharpest::SharpestAside, sharpness_of},
    tools::Tools,
};

use crate::domain::marking::own_figure::Reveals;
use crate::web::fields::{hole_fields as measured, hole_fields::Measured};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/bench/hole", Access::Bench, show),
        change("/bench/hole", Access::Bench, record),
        page("/bench/hole/{id}/edit", Access::Bench, edit),
        change("/bench/hole/{id}/edit", Access::Bench, update),
    ]
}

/// The page of the hole.
#[derive(Template)]
#[template(path = "bench/hole.html")]
struct HolePage {
    frame: Frame,
    saved: at_bench::Saved,
    number: i64,
    target: Reading,
    /// The micrometer's setting in the student's unit, and in the other one.
    setting: [String; 2],
    micrometer: Reading,
    aside: SharpestAside,
    tools: Tools,
    /// The diameters between which sharpness stays within a tenth of the best.
    within: [String; 2],
    needle: Form,
    mark: Option<(Reading, Needle)>,
    form: Form,
    unit: &'static str,
    /// The newest hole, which counts.
    numbers: Vec<Reading>,
    plate: Option<HolePlate>,
    history: Vec<Row>,
}

/// One hole of the history.
struct Row {
    edit: String,
    when: String,
    diameter: String,
    uncertainty: String,
    readings: String,
    remark: String,
    /// Mean and uncertainty with the numbers put in.
    working: String,
}

/// The form to change a measured hole.
#[derive(Template)]
#[template(path = "bench/hole_edit.html")]
struct HoleEdit {
    frame: Frame,
    action: String,
    form: Form,
    unit: &'static str,
}

fn row(hole: &Hole, zone: &TimeZone, unit: LengthUnit) -> Row {
    let result = hole.measurement.result();
    Row {
        edit: format!("/bench/hole/{}/edit", hole.id),
        when: hole.measured_at.as_words(zone),
        diameter: computed_words(result.diameter.as_mm(), 3, unit),
        uncertainty: computed_words(result.uncertainty_mm, 2, unit),
        readings: hole.measurement.readings().iter().map(|one| one.typed.clone()).collect::<Vec<_>>().join("; "),
        remark: hole.remark.clone(),
        working: measured::row_working(hole),
    }
}

/// Puts the page together round its two forms.
async fn hole_page(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    camera: &Camera,
    asked: &HashMap<String, String>,
    refused: Option<Form>,
) -> Result<Page<HolePage>, WebError> {
    let mut conn = state.store.read().await?;
    let here = FormulaHere::find(&mut conn, bench.section).await?;
    let target = Target::of(camera, here.formula);
    let zone = zone(&mut conn).await?;
    let all = holes::list_of_camera(&mut conn, camera.id).await?;
    let needle = needle::answer(&frame, asked, bench.unit(), Some(target.hole));
    let sharpness = sharpness_of(camera, target);
    let instrument = ("instrument", measured::usual_instrument(bench.unit()));
    let wrong = needle.refused || refused.is_some();
    let setting = at_bench::micrometer_words(target, bench.unit());
    let shown =
        HolePage {
            saved: at_bench::last_saved(&mut conn, bench.actor(), state.now()).await?,
            number: camera.number,
            target: Reading::of(target.hole_working(camera), Reveals::HOLE)
                .named("Hole to make")
                .showing(computed_words(target.hole.as_mm(), 3, bench.unit())),
            micrometer: Reading::of(target.setting().working(), Reveals::HOLE)
                .showing(setting[0].clone())
                .remark(format!("or {}", setting[1])),
            aside: SharpestAside::of(camera, target, &sharpness, here.film_light(camera), bench.unit()),
            tools: Tools::near(target.hole, bench.unit()),
            within: sharpness.within_a_tenth().map(|hole| computed_words(hole.as_mm(), 3, bench.unit())),
            setting,
            needle: needle.form,
            mark: needle.answer,
            form: refused.unwrap_or_else(|| Form::filled(&frame, 0, [instrument])),
            unit: bench.unit().sign(),
            numbers: all.first().map(|hole| measured::readings(hole, camera, target, bench.unit())).unwrap_or_default(),
            plate: all
                .first()
                .map(|hole| HolePlate::of("plate", Some(target.hole), hole.measurement.diameters(), bench.unit())),
            history: all.iter().map(|hole| row(hole, &zone, bench.unit())).collect(),
            frame,
        };
    let page = Page::new(shown);
    Ok(if wrong { page.unprocessable() } else { page })
}

async fn camera_of(state: &AppState, student: StudentId) -> Result<Option<Camera>, WebError> {
    let mut conn = state.store.read().await?;
    Ok(cameras::find_of_student(&mut conn, student).await?)
}

/// The page: what to make, how, and what was measured.
async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Query(asked): Query<HashMap<String, String>>,
) -> Result<Response, WebError> {
    let Some(camera) = camera_of(&state, bench.student).await? else {
        return Ok(Page::new(NoCamera { frame, heading: "The hole" }).into_response());
    };
    Ok(hole_page(&state, frame, &bench, &camera, &asked, None).await?.into_response())
}

/// Records a hole as measured.
async fn record(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let Some(camera) = camera_of(&state, bench.student).await? else {
        return Err(WebError::Forbidden("register your camera first, or share your partner's"));
    };
    let read = match read_sure(&state, &bench, &camera, &posted).await? {
        Ok(read) => read,
        Err(errors) => {
            let form = Form::refused(&posted, errors);
            let shown = hole_page(&state, frame, &bench, &camera, &HashMap::new(), Some(form)).await?;
            return Ok(shown.into_response());
        }
    };
    let (id, at, student) = (state.mint::<HoleId>(), posted.at(), bench.student);
    let saved = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let camera = cameras::find_of_student(tx, student).await?.ok_or(WriteError::Missing("your camera"))?;
                let hole = Hole {
                    id,
                    camera: camera.id,
                    measurement: read.measurement,
                    plate: read.plate,
                    remark: read.remark,
                    measured_at: at,
                    recorded_by: student.into(),
                    version: 1,
                };
                hole.measurement.fits(camera.hole_to_film())?;
                holes::insert(tx, &hole).await?;
                let detail = in_short(&hole, &camera);
                change_log::insert(tx, at, Actor::Student(student), "hole recorded", "hole", id, &detail).await?;
                Ok("/bench/hole".to_owned())
            })
        })
        .await;
    match saved {
        Ok(landing) => Ok(see_other(&landing)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Reads a measurement; of a hole far from the target it asks first whether it really is so.
async fn read_sure(
    state: &AppState,
    bench: &Bench,
    camera: &Camera,
    posted: &Posted,
) -> Result<Result<Measured, FieldErrors>, WebError> {
    let here = FormulaHere::find(&mut *state.store.read().await?, bench.section).await?;
    let target = Target::of(camera, here.formula);
    Ok(measured::read(posted, bench.unit(), camera.hole_to_film()).and_then(|read| {
        let hole = read.measurement.result().diameter;
        measured::ask_back(posted, hole, target.hole, bench.unit()).map(|()| read)
    }))
}

fn in_short(hole: &Hole, camera: &Camera) -> String {
    format!("camera {}, {} mm", camera.number, figures(hole.diameter().as_mm(), 3))
}

/// A hole of their own camera, or not found.
async fn own_hole(
    conn: &mut sqlx::SqliteConnection,
    student: StudentId,
    id: HoleId,
) -> Result<Option<(Camera, Hole)>, crate::store::Error> {
    let camera = cameras::find_of_student(conn, student).await?;
    let hole = holes::find(conn, id).await?;
    Ok(camera.zip(hole).filter(|(camera, hole)| hole.camera == camera.id))
}

/// The form to change a measured hole.
async fn edit(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<HoleId>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let (_, hole) = own_hole(&mut conn, bench.student, id).await?.ok_or(WebError::NotFound("this hole"))?;
    let form = Form::filled(&frame, hole.version, measured::values(&hole));
    Ok(Page::new(hole_edit(frame, &bench, id, form)).into_response())
}

fn hole_edit(frame: Frame, bench: &Bench, id: HoleId, form: Form) -> HoleEdit {
    HoleEdit { frame, action: format!("/bench/hole/{id}/edit"), form, unit: bench.unit().sign() }
}

/// Saves a changed hole unless a partner saved it in the meantime.
async fn update(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<HoleId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let found = {
        let mut conn = state.store.read().await?;
        own_hole(&mut conn, bench.student, id).await?
    };
    let (camera, _) = found.ok_or(WebError::NotFound("this hole"))?;
    let read = match read_sure(&state, &bench, &camera, &posted).await? {
        Ok(read) => read,
        Err(errors) => {
            let form = Form::refused(&posted, errors);
            return Ok(Page::new(hole_edit(frame, &bench, id, form)).unprocessable().into_response());
        }
    };
    let (version, at, student) = (posted.version(), posted.at(), bench.student);
    let saved = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let (camera, stored) = own_hole(tx, student, id).await?.ok_or(WriteError::Missing("this hole"))?;
                changed(tx, &camera, stored, read, version, student, at).await
            })
        })
        .await;
    match saved {
        Ok(landing) => Ok(see_other(&landing)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn changed(
    tx: &mut sqlx::SqliteConnection,
    camera: &Camera,
    stored: Hole,
    sent: Measured,
    version: i64,
    student: StudentId,
    at: Instant,
) -> Result<String, WriteError> {
    sent.measurement.fits(camera.hole_to_film())?;
    let edited = Hole {
        measurement: sent.measurement.clone(),
        plate: sent.plate.clone(),
        remark: sent.remark.clone(),
        version,
        ..stored.clone()
    };
    if !holes::update(tx, &edited).await? {
        return Err(WriteError::Stale(Box::new(Stale {
            what: format!("the hole of camera {}", camera.number),
            path: format!("/bench/hole/{}/edit", stored.id).into(),
            fields: measured::both_versions(&sent, &stored),
        })));
    }
    let detail = in_short(&edited, camera);
    change_log::insert(tx, at, Actor::Student(student), "hole changed", "hole", edited.id, &detail).await?;
    Ok("/bench/hole".to_owned())
}
