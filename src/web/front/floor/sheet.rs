//! A sheet that was typed in under the wrong camera or student.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::lab::exposure::moving::{self, NOBODY, Place, camera_words};
use crate::{
    domain::{
        evening::lab_session::LabSession,
        exposure::Exposure,
        field_errors::FieldErrors,
        ids::{ExposureId, LabSessionId},
    },
    store::{WriteError, camera::cameras, exposure::exposures, people::students},
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

use super::board::sheet_words;
use super::{find_session, log_of};

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

/// Where it belongs, as chosen.
fn read(posted: &Posted) -> Result<Place, FieldErrors> {
    let mut reader = posted.reader();
    let camera = reader.id("camera");
    let student = reader.choice("student", |value| match value {
        NOBODY => Some(None),
        id => id.parse().ok().map(Some),
    });
    reader.finish((|| Some(Place { camera: camera?, student: student? }))())
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
    let place = match read(&posted) {
        Ok(place) => place,
        Err(errors) => return again(&state, frame, id, exposure, Form::refused(&posted, errors)).await,
    };
    let (at, actor, version) = (posted.at(), staff.actor(), posted.version());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                moving::change_place(tx, (id, exposure), place, version, (actor, at)).await?;
                Ok(format!("/front/sessions/{id}/floor/sheets/{exposure}"))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => again(&state, frame, id, exposure, Form::refused(&posted, errors)).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
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
