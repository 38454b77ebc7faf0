//! A student's camera: register it, join a partner's, edit it, and see its one target.

mod target;

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::lab::camera::registering::{Registered, in_short, register as register_camera};
use crate::{
    domain::{
        camera::{Build, Camera},
        field_errors::FieldErrors,
        ids::{CameraId, SectionId, StudentId},
        instant::Instant,
        people::actor::Actor,
    },
    store::{
        Stale, WriteError,
        camera::{cameras, holes},
        people::{change_log, students},
    },
    web::{
        kit::{
            access::{Access, Bench},
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            slowdown::Pace,
            state::AppState,
        },
        request::posted::Posted,
    },
};

use crate::web::fields::{camera_fields as dimensions, camera_fields::Dimensions};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/bench/camera", Access::Bench, show),
        change("/bench/camera", Access::Bench, register),
        page("/bench/camera/new", Access::Bench, new),
        change("/bench/camera/join", Access::Bench, join),
        change("/bench/camera/{id}/again", Access::Bench, take_again),
        page("/bench/camera/{id}/edit", Access::Bench, edit),
        change("/bench/camera/{id}/edit", Access::Bench, update),
    ]
}

/// The form for a camera: a new one, or an edit; with it, for a new one, joining a partner's.
#[derive(Template)]
#[template(path = "bench/camera_form.html")]
struct CameraForm {
    frame: Frame,
    heading: String,
    action: String,
    button: &'static str,
    form: Form,
    join: Option<Form>,
    choices: Vec<(String, String)>,
    /// Sign of the student's unit, and hints with an example in it.
    unit: &'static str,
    distance_hint: String,
    inside_hint: String,
    /// What this student has in hand and had before.
    cameras: OwnCameras,
    editing: bool,
}

/// The number of the camera a student has, and the cameras they had before: id, and in words.
#[derive(Default)]
struct OwnCameras {
    put_down: Option<i64>,
    earlier: Vec<(CameraId, String)>,
}

impl OwnCameras {
    async fn load(state: &AppState, bench: &Bench) -> Result<Self, WebError> {
        let mut conn = state.store.read().await?;
        let in_hand = cameras::find_of_student(&mut conn, bench.student).await?;
        let earlier = cameras::list_put_down(&mut conn, bench.section, bench.student).await?;
        Ok(Self {
            put_down: in_hand.map(|camera| camera.number),
            earlier: earlier.iter().map(|camera| (camera.id, in_short(camera))).collect(),
        })
    }
}

impl CameraForm {
    fn new(frame: Frame, bench: &Bench, form: Form, join: Option<Form>, cameras: OwnCameras) -> Self {
        let example = if bench.inches { "4 3/4" } else { "120" };
        Self {
            join: Some(join.unwrap_or_else(|| Form::empty(&frame)).prefixed("join")),
            frame,
            heading: "Your camera".to_owned(),
            action: "/bench/camera".to_owned(),
            button: "Save and show the hole to make",
            form,
            choices: dimensions::choices(),
            unit: bench.unit().sign(),
            distance_hint: format!(
                "for a box, an end-hole can or a body cap: from the hole straight to the film, for example {example}"
            ),
            inside_hint: format!("for a can with the hole in its side, for example {example}"),
            cameras,
            editing: false,
        }
    }

    fn edit(frame: Frame, bench: &Bench, form: Form, camera: &Camera) -> Self {
        Self {
            heading: format!("Change camera {}", camera.number),
            action: format!("/bench/camera/{}/edit", camera.id),
            button: "Save the changes",
            editing: true,
            join: None,
            ..Self::new(frame, bench, form, None, OwnCameras::default())
        }
    }
}

/// The camera's page, or the form for one when there is none yet.
async fn show(State(state): State<AppState>, frame: Frame, bench: Bench) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let Some(camera) = cameras::find_of_student(&mut conn, bench.student).await? else {
        drop(conn);
        let (form, own) = (Form::empty(&frame), OwnCameras::load(&state, &bench).await?);
        return Ok(Page::new(CameraForm::new(frame, &bench, form, None, own)).into_response());
    };
    Ok(Page::new(target::page(&mut conn, frame, &bench, camera, state.now()).await?).into_response())
}

/// The form for another camera.
async fn new(State(state): State<AppState>, frame: Frame, bench: Bench) -> Result<Response, WebError> {
    let (form, own) = (Form::empty(&frame), OwnCameras::load(&state, &bench).await?);
    Ok(Page::new(CameraForm::new(frame, &bench, form, None, own)).into_response())
}

/// Takes up again a camera that the student had before.
async fn take_again(
    State(state): State<AppState>,
    bench: Bench,
    Path(id): Path<CameraId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (section, student, at) = (bench.section, bench.student, posted.at());
    let saved = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let earlier = cameras::list_put_down(tx, section, student).await?;
                let camera = earlier.into_iter().find(|camera| camera.id == id);
                let camera = camera.ok_or(WriteError::Missing("this camera among those you had"))?;
                cameras::insert_holder(tx, id, student, at).await?;
                let detail = in_short(&camera);
                change_log::insert(tx, at, Actor::Student(student), "camera taken up again", "camera", id, &detail)
                    .await?;
                Ok("/bench/camera".to_owned())
            })
        })
        .await;
    saved.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// Registers a new camera, which its maker then has.
async fn register(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let read = match dimensions::read(&posted, bench.unit()) {
        Ok(read) => read,
        Err(errors) => {
            let own = OwnCameras::load(&state, &bench).await?;
            let form = Form::refused(&posted, errors);
            return Ok(Page::new(CameraForm::new(frame, &bench, form, None, own)).unprocessable().into_response());
        }
    };
    let (id, at, section, student) = (state.mint::<CameraId>(), posted.at(), bench.section, bench.student);
    let saved = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let actor = Actor::Student(student);
                register_camera(tx, read.camera(id, section), Registered::AtBench, actor, at).await?;
                cameras::insert_holder(tx, id, student, at).await?;
                Ok("/bench/camera".to_owned())
            })
        })
        .await;
    match saved {
        Ok(landing) => Ok(see_other(&landing)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Joins a camera that somebody else has: its number and that person's roster number, so that no
/// list of names is shown.
async fn join(State(state): State<AppState>, frame: Frame, bench: Bench, posted: Posted) -> Result<Response, WebError> {
    let mut r = posted.reader();
    let number = r.whole("number", 1..=100_000);
    let roster_number = r.text("partner", 1..=40);
    let read = r.finish((|| Some((number?, roster_number?)))());
    let saved = match read {
        Err(errors) => Err(WriteError::Refused(errors)),
        Ok((number, roster_number)) => {
            // guessing other people's numbers is slowed, never locked
            let key = format!("join:{}", bench.student);
            match state.slowdown.begin((&key, Pace::PERSON), None, &state.world).await {
                Err(wait) => Err(FieldErrors::whole(wait.words()).into()),
                Ok(trying) => {
                    let (section, student, at) = (bench.section, bench.student, posted.at());
                    let saved = state
                        .store
                        .write(posted.stamp(), move |tx| {
                            Box::pin(joined(tx, section, student, number, roster_number, at))
                        })
                        .await;
                    if !matches!(saved, Err(WriteError::Refused(_))) {
                        trying.right();
                    }
                    saved
                }
            }
        }
    };
    match saved {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let own = OwnCameras::load(&state, &bench).await?;
            let (form, join) = (Form::empty(&frame), Form::refused(&posted, errors));
            let shown = CameraForm::new(frame, &bench, form, Some(join), own);
            Ok(Page::new(shown).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn joined(
    tx: &mut sqlx::SqliteConnection,
    section: SectionId,
    student: StudentId,
    number: i64,
    roster_number: String,
    at: Instant,
) -> Result<String, WriteError> {
    let camera = cameras::find_by_number(tx, section, number).await?;
    let partner = students::find_on_roster(tx, section, &roster_number).await?;
    let (Some(camera), Some(partner)) = (camera, partner) else {
        return Err(no_such_pair().into());
    };
    let holders = cameras::students_of(tx, camera.id).await?;
    if holders.iter().any(|holder| holder.id == student) {
        return Err(FieldErrors::one("number", "you have this camera already").into());
    }
    if !holders.iter().any(|holder| holder.id == partner.id) {
        return Err(no_such_pair().into());
    }
    cameras::insert_holder(tx, camera.id, student, at).await?;
    let detail = in_short(&camera);
    change_log::insert(tx, at, Actor::Student(student), "camera shared", "camera", camera.id, &detail).await?;
    Ok("/bench/camera".to_owned())
}

/// One message whichever of the two is wrong, so that nobody learns which numbers exist.
fn no_such_pair() -> FieldErrors {
    FieldErrors::one("number", "nobody with that roster number has a camera with that number; read it off the camera")
}

/// Their own camera, or not found.
async fn own_camera(state: &AppState, bench: &Bench, id: CameraId) -> Result<Camera, WebError> {
    let mut conn = state.store.read().await?;
    let own = cameras::find_of_student(&mut conn, bench.student).await?;
    own.filter(|camera| camera.id == id).ok_or(WebError::NotFound("this camera among yours"))
}

/// The form to change a camera.
async fn edit(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<CameraId>,
) -> Result<Response, WebError> {
    let camera = own_camera(&state, &bench, id).await?;
    let form = Form::filled(&frame, camera.version, dimensions::values(&camera));
    Ok(Page::new(CameraForm::edit(frame, &bench, form, &camera)).into_response())
}

/// Saves a changed camera unless a partner saved it in the meantime.
async fn update(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<CameraId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let before = own_camera(&state, &bench, id).await?;
    let read = match dimensions::read(&posted, bench.unit()) {
        Ok(read) => read,
        Err(errors) => {
            let form = Form::refused(&posted, errors);
            return Ok(Page::new(CameraForm::edit(frame, &bench, form, &before)).unprocessable().into_response());
        }
    };
    let (version, at, student) = (posted.version(), posted.at(), bench.student);
    let saved = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = cameras::find_of_student(tx, student).await?;
                let stored = stored.filter(|camera| camera.id == id).ok_or(WriteError::Missing("this camera"))?;
                changed(tx, stored, read, version, student, at).await
            })
        })
        .await;
    match saved {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let form = Form::refused(&posted, errors);
            Ok(Page::new(CameraForm::edit(frame, &bench, form, &before)).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn changed(
    tx: &mut sqlx::SqliteConnection,
    stored: Camera,
    sent: Dimensions,
    version: i64,
    student: StudentId,
    at: Instant,
) -> Result<String, WriteError> {
    let landing = "/bench/camera".to_owned();
    let hole = holes::find_latest(tx, stored.id).await?;
    if hole.is_some_and(|hole| hole.measurement.fits(sent.body.hole_to_film()).is_err()) {
        let field = if sent.body.build() == Build::SideHoleCan { "inside_diameter" } else { "distance" };
        return Err(FieldErrors::one(field, "is less than the hole as measured is wide; correct the hole first").into());
    }
    let edited = Camera {
        body: sent.body.clone(),
        subject: sent.subject.clone(),
        remark: sent.remark.clone(),
        version,
        ..stored.clone()
    };
    if !cameras::update(tx, &edited).await? {
        return Err(WriteError::Stale(Box::new(Stale {
            what: format!("camera {}", stored.number),
            path: format!("/bench/camera/{}/edit", stored.id).into(),
            fields: dimensions::both_versions(&sent, &stored),
        })));
    }
    let detail = in_short(&edited);
    change_log::insert(tx, at, Actor::Student(student), "camera changed", "camera", edited.id, &detail).await?;
    Ok(landing)
}
