//! Putting right what went wrong with a student: the seat key, a wrongly taken name, the camera.

use std::sync::atomic::Ordering;

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        field_errors::FieldErrors,
        ids::{CameraId, ExposureId, LabSessionId, StudentId},
        people::student::Student,
    },
    store::{
        WriteError,
        camera::cameras,
        exposure::exposures,
        people::{change_log, sign_ins, students},
    },
    web::{
        front::accounts::shown_to,
        kit::{
            access::Staff,
            cookies,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            seat_keys::FreshKey,
            shown_once::{AfterWrite, Shown, What},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::board::sheet_words;
use super::{find_session, log_of};

/// Chosen in place of a camera: the student has none.
const NO_CAMERA: &str = "none";

/// One student, with what can be put right.
#[derive(Template)]
#[template(path = "front/floor_student.html")]
pub(super) struct StudentPage {
    frame: Frame,
    session: LabSession,
    student: Student,
    key: Option<String>,
    camera: Option<i64>,
    cameras: Vec<(String, String)>,
    form: Form,
    sheets: Vec<(ExposureId, i64, String)>,
    log: Vec<String>,
}

/// Shows the student.
pub(super) async fn show(
    State(state): State<AppState>,
    frame: Frame,
    jar: CookieJar,
    Path((id, student)): Path<(LabSessionId, StudentId)>,
) -> Result<Page<StudentPage>, WebError> {
    page_of(&state, frame, &jar, id, student, None).await
}

async fn page_of(
    state: &AppState,
    frame: Frame,
    jar: &CookieJar,
    id: LabSessionId,
    student: StudentId,
    refused: Option<Form>,
) -> Result<Page<StudentPage>, WebError> {
    let mut conn = state.store.read().await?;
    let session = find_session(&mut conn, id).await?;
    let student = students::find(&mut conn, student).await?.filter(|student| student.section == session.section);
    let student = student.ok_or(WebError::NotFound("this student"))?;
    // kept by id: two of one name must not be taken for each other
    let mut key = None;
    for shown in shown_to(state, jar, &What::SeatKey) {
        if shown.whose == student.id.to_string() {
            key = Some(shown.text);
        }
    }
    let camera = cameras::find_of_student(&mut conn, student.id).await?;
    let chosen = camera.as_ref().map_or(NO_CAMERA.to_owned(), |camera| camera.id.to_string());
    let form = refused.unwrap_or_else(|| Form::filled(&frame, 0, [("camera", chosen)]));
    let mut sheets = exposures::list_of_session(&mut conn, id).await?;
    sheets.retain(|sheet| {
        sheet.student == Some(student.id) || camera.as_ref().is_some_and(|camera| camera.id == sheet.camera)
    });
    Ok(Page::new(StudentPage {
        frame,
        session,
        key,
        camera: camera.map(|camera| camera.number),
        cameras: camera_choices(&mut conn, &student).await?,
        form,
        sheets: sheets.iter().map(|sheet| (sheet.id, sheet.number, sheet_words(sheet))).collect(),
        log: log_of(&mut conn, student.id).await?,
        student,
    }))
}

async fn camera_choices(conn: &mut SqliteConnection, student: &Student) -> Result<Vec<(String, String)>, WebError> {
    let mut choices = vec![(NO_CAMERA.to_owned(), "no camera".to_owned())];
    for camera in cameras::list_of_section(conn, student.section).await? {
        let holders = cameras::students_of(conn, camera.id).await?;
        let names: Vec<String> = holders.into_iter().map(|holder| holder.name).collect();
        let with = if names.is_empty() { "nobody".to_owned() } else { names.join(", ") };
        choices.push((camera.id.to_string(), format!("{}, {} ({with})", camera.number, camera.build().as_str())));
    }
    Ok(choices)
}

fn here(id: LabSessionId, student: StudentId) -> String {
    format!("/front/sessions/{id}/floor/students/{student}")
}

/// The student inside a write, if still on this session's roster.
async fn find_here(tx: &mut SqliteConnection, id: LabSessionId, student: StudentId) -> Result<Student, WriteError> {
    let session =
        crate::store::evening::lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("this session"))?;
    let student = students::find(tx, student).await?.filter(|student| student.section == session.section);
    student.ok_or(WriteError::Missing("this student"))
}

/// Reissues a seat key. The old key and every sign-in with it end.
pub(super) async fn new_key(
    State(state): State<AppState>,
    staff: Staff,
    jar: CookieJar,
    Path((id, student)): Path<(LabSessionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let here_too = cookies::token_hash(&jar).ok_or(WebError::SignedOut { reading: false })?;
    let fresh = FreshKey::draw(&state).await.map_err(|error| WebError::from_write(error, &posted))?;
    let shown = Shown { what: What::SeatKey, whose: student.to_string(), text: fresh.key.to_string() };
    let showing = AfterWrite::to(here_too, shown);
    let (at, actor, ran) = (posted.at(), staff.actor(), showing.ran());
    let landing = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let student = find_here(tx, id, student).await?;
                if student.left_at.is_some() {
                    return Err(WriteError::Forbidden("this student was struck off the roster"));
                }
                students::update_seat_key(tx, student.id, &fresh.hash, at).await?;
                sign_ins::end_of_student(tx, student.id, at).await?;
                change_log::insert(tx, at, actor, "seat key reissued", "student", student.id, "").await?;
                ran.store(true, Ordering::SeqCst);
                Ok(here(id, student.id))
            })
        })
        .await
        .map_err(|error| WebError::from_write(error, &posted))?;
    showing.put_up(&state.shown, at);
    Ok(see_other(&landing))
}

/// Frees a wrongly taken name: key and sign-ins end, and its owner can join.
pub(super) async fn free(
    State(state): State<AppState>,
    staff: Staff,
    Path((id, student)): Path<(LabSessionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), staff.actor());
    state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let student = find_here(tx, id, student).await?;
                students::update_not_joined(tx, student.id).await?;
                sign_ins::end_of_student(tx, student.id, at).await?;
                change_log::insert(tx, at, actor, "name freed", "student", student.id, "").await?;
                Ok(here(id, student.id))
            })
        })
        .await
        .map(|landing| see_other(&landing))
        .map_err(|error| WebError::from_write(error, &posted))
}

/// Gives the student another camera, or takes theirs away.
pub(super) async fn change_camera(
    State(state): State<AppState>,
    staff: Staff,
    frame: Frame,
    jar: CookieJar,
    Path((id, student)): Path<(LabSessionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut reader = posted.reader();
    let camera = reader.choice("camera", |value| match value {
        NO_CAMERA => Some(None),
        id => id.parse::<CameraId>().ok().map(Some),
    });
    let camera = match reader.finish(camera) {
        Ok(camera) => camera,
        Err(errors) => return again(&state, frame, &jar, id, student, Form::refused(&posted, errors)).await,
    };
    let (at, actor) = (posted.at(), staff.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let student = find_here(tx, id, student).await?;
                let before = cameras::find_of_student(tx, student.id).await?.map(|camera| camera.number);
                let after = match camera {
                    None => {
                        cameras::end_holding(tx, student.id, at).await?;
                        None
                    }
                    Some(camera) => {
                        let found = cameras::find(tx, camera).await?.filter(|found| found.section == student.section);
                        let found = found.ok_or_else(|| FieldErrors::one("camera", "choose one of those offered"))?;
                        if before != Some(found.number) {
                            cameras::insert_holder(tx, camera, student.id, at).await?;
                        }
                        Some(found.number)
                    }
                };
                if before != after {
                    let named = |number: Option<i64>| number.map_or("none".to_owned(), |number| number.to_string());
                    let detail = format!("camera {} to {}", named(before), named(after));
                    change_log::insert(tx, at, actor, "student moved", "student", student.id, &detail).await?;
                }
                Ok(here(id, student.id))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            again(&state, frame, &jar, id, student, Form::refused(&posted, errors)).await
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn again(
    state: &AppState,
    frame: Frame,
    jar: &CookieJar,
    id: LabSessionId,
    student: StudentId,
    form: Form,
) -> Result<Response, WebError> {
    Ok(page_of(state, frame, jar, id, student, Some(form)).await?.unprocessable().into_response())
}
