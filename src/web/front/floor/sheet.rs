//! A sheet that was typed in under the wrong camera or student.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    domain::{
        camera::{Camera, hole::Hole},
        evening::lab_session::LabSession,
        exposure::Exposure,
        field_errors::FieldErrors,
        ids::{CameraId, ExposureId, LabSessionId, SectionId, StudentId},
        instant::Instant,
        stock::paper::Paper,
    },
    store::{
        Error, Stale, WriteError,
        baths::sheet_runs,
        camera::{cameras, films, holes},
        evening::lab_sessions,
        exposure::exposures,
        people::{change_log, students},
        stock::papers,
    },
    web::{
        kit::{
            access::Staff,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::{board::sheet_words, find_session, log_of};

/// Chosen in place of a student: nobody's in particular.
const NOBODY: &str = "nobody";

/// One sheet, with where it belongs.
#[derive(Template)]
#[template(path = "front/floor_sheet.html")]
pub(super) struct SheetPage {
    frame: Frame,
    session: LabSession,
    exposure: Exposure,
    words: String,
    form: Form,
    cameras: Vec<(String, String)>,
    students: Vec<(String, String)>,
    log: Vec<String>,
}

/// Shows the sheet.
pub(super) async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path((id, exposure)): Path<(LabSessionId, ExposureId)>,
) -> Result<Page<SheetPage>, WebError> {
    page_of(&state, frame, id, exposure, None).await
}

async fn page_of(
    state: &AppState,
    frame: Frame,
    id: LabSessionId,
    exposure: ExposureId,
    refused: Option<Form>,
) -> Result<Page<SheetPage>, WebError> {
    let mut conn = state.store.read().await?;
    let session = find_session(&mut conn, id).await?;
    let exposure = exposures::find(&mut conn, exposure).await?.filter(|exposure| exposure.session == id);
    let exposure = exposure.ok_or(WebError::NotFound("this sheet"))?;
    let whose = exposure.student.map_or(NOBODY.to_owned(), |student| student.to_string());
    let values = [("camera", exposure.camera.to_string()), ("student", whose)];
    let form = refused.unwrap_or_else(|| Form::filled(&frame, exposure.version, values));
    let cameras = cameras::list_of_section(&mut conn, session.section).await?;
    let mut choices = vec![(NOBODY.to_owned(), "nobody in particular".to_owned())];
    for student in students::list(&mut conn, session.section).await? {
        choices.push((student.id.to_string(), format!("{} {}", student.roster_number, student.name)));
    }
    Ok(Page::new(SheetPage {
        frame,
        words: sheet_words(&exposure),
        form,
        cameras: cameras.iter().map(|camera| (camera.id.to_string(), camera_words(camera))).collect(),
        students: choices,
        log: log_of(&mut conn, exposure.id).await?,
        session,
        exposure,
    }))
}

fn camera_words(camera: &Camera) -> String {
    format!("{}, {}", camera.number, camera.build().as_str())
}

/// The hole a camera had at that time: the newest measured by then, or else the first one after.
async fn hole_at(tx: &mut SqliteConnection, camera: CameraId, at: Instant) -> Result<Option<Hole>, Error> {
    let mut newest_first = holes::list_of_camera(tx, camera).await?;
    match newest_first.iter().position(|hole| hole.measured_at <= at) {
        Some(place) => Ok(Some(newest_first.swap_remove(place))),
        None => Ok(newest_first.pop()),
    }
}

/// Where it belongs, as chosen.
#[derive(Clone, Copy)]
struct Place {
    camera: CameraId,
    student: Option<StudentId>,
}

impl Place {
    fn read(posted: &Posted) -> Result<Self, FieldErrors> {
        let mut reader = posted.reader();
        let camera = reader.id("camera");
        let student = reader.choice("student", |value| match value {
            NOBODY => Some(None),
            id => id.parse().ok().map(Some),
        });
        reader.finish((|| Some(Self { camera: camera?, student: student? }))())
    }

    /// The camera chosen, and that the student is one of this section's.
    async fn check(self, tx: &mut SqliteConnection, section: SectionId) -> Result<Camera, WriteError> {
        let not_offered = |field: &str| FieldErrors::one(field, "choose one of those offered");
        if let Some(student) = self.student {
            let found = students::find(tx, student).await?.filter(|student| student.section == section);
            found.ok_or_else(|| not_offered("student"))?;
        }
        let camera = cameras::find(tx, self.camera).await?.filter(|camera| camera.section == section);
        Ok(camera.ok_or_else(|| not_offered("camera"))?)
    }
}

/// Moves the sheet. Its base time and forecast follow the hole it was really made through, so that
/// experience learns from the right camera.
pub(super) async fn change_place(
    State(state): State<AppState>,
    staff: Staff,
    frame: Frame,
    Path((id, exposure)): Path<(LabSessionId, ExposureId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let place = match Place::read(&posted) {
        Ok(place) => place,
        Err(errors) => return again(&state, frame, id, exposure, Form::refused(&posted, errors)).await,
    };
    let (at, actor, version) = (posted.at(), staff.actor(), posted.version());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = exposures::find(tx, exposure).await?.filter(|exposure| exposure.session == id);
                let mut sheet = stored.ok_or(WriteError::Missing("this sheet"))?;
                let camera = place.check(tx, sheet.section).await?;
                let landing = format!("/front/sessions/{id}/floor/sheets/{exposure}");
                if sheet.version != version {
                    return Err(WriteError::Stale(Box::new(both_versions(tx, landing, &sheet, &camera, place).await?)));
                }
                let before = sheet.clone();
                if camera.id != sheet.camera {
                    let hole = hole_at(tx, camera.id, sheet.made_at).await?.ok_or_else(|| {
                        FieldErrors::one("camera", "this camera has no measured hole yet: record its hole first")
                    })?;
                    let hole_to_film = camera.hole_to_film();
                    sheet.put_into(camera.id, hole.id, hole_to_film, hole.f_number(hole_to_film));
                    // from paper to film or back: another speed, another lesson
                    if camera.holds_film() != held_film(tx, &before).await? {
                        sheet.correct_loaded(&loaded_with(tx, &before, &camera).await?);
                    }
                }
                sheet.student = place.student;
                if (sheet.camera, sheet.student) != (before.camera, before.student) {
                    exposures::update_place(tx, &sheet).await?;
                    sheet_runs::update_student_of_negative(tx, sheet.id, sheet.student).await?;
                    let detail = moved_words(tx, &before, &camera, place).await?;
                    change_log::insert(tx, at, actor, "sheet moved", "exposure", sheet.id, &detail).await?;
                }
                Ok(landing)
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => again(&state, frame, id, exposure, Form::refused(&posted, errors)).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// What the camera that a sheet was really made in is loaded with.
async fn loaded_with(tx: &mut SqliteConnection, sheet: &Exposure, camera: &Camera) -> Result<Paper, WriteError> {
    let session = lab_sessions::find(tx, sheet.session).await?.ok_or(WriteError::Missing("this session"))?;
    let paper = papers::find(tx, session.paper).await?.ok_or(WriteError::Missing("this session’s paper"))?;
    let loaded = films::find_loaded(tx, &paper, camera).await?;
    let unknown = || FieldErrors::one("camera", "nobody has said which film is in this camera: say so first");
    Ok(loaded.ok_or_else(unknown)?)
}

/// Whether a sheet was recorded in a camera that holds film of its own.
async fn held_film(tx: &mut SqliteConnection, sheet: &Exposure) -> Result<bool, Error> {
    Ok(cameras::find(tx, sheet.camera).await?.is_some_and(|camera| camera.holds_film()))
}

/// For the change log: roster numbers, never names.
async fn moved_words(
    tx: &mut SqliteConnection,
    before: &Exposure,
    camera: &Camera,
    place: Place,
) -> Result<String, Error> {
    let from = cameras::find(tx, before.camera).await?.map_or(0, |camera| camera.number);
    let (whose, now_whose) = (roster_number(tx, before.student).await?, roster_number(tx, place.student).await?);
    Ok(format!("sheet {}: camera {from} to {}, student {whose} to {now_whose}", before.number, camera.number))
}

async fn roster_number(tx: &mut SqliteConnection, student: Option<StudentId>) -> Result<String, Error> {
    let Some(student) = student else { return Ok(NOBODY.to_owned()) };
    Ok(students::find(tx, student).await?.map_or(NOBODY.to_owned(), |student| student.roster_number))
}

async fn both_versions(
    tx: &mut SqliteConnection,
    path: String,
    stored: &Exposure,
    camera: &Camera,
    place: Place,
) -> Result<Stale, Error> {
    let stored_camera = cameras::find(tx, stored.camera).await?;
    let fields = vec![
        ("Camera".to_owned(), camera_words(camera), stored_camera.as_ref().map(camera_words).unwrap_or_default()),
        ("Student".to_owned(), roster_number(tx, place.student).await?, roster_number(tx, stored.student).await?),
    ];
    Ok(Stale { what: format!("sheet {}", stored.number), path, fields })
}

async fn again(
    state: &AppState,
    frame: Frame,
    id: LabSessionId,
    exposure: ExposureId,
    form: Form,
) -> Result<Response, WebError> {
    Ok(page_of(state, frame, id, exposure, Some(form)).await?.unprocessable().into_response())
}
