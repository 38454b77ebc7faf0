//! What becomes of a section that is over: archived, and later its people forgotten.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    domain::{field_errors::FieldErrors, ids::SectionId, people::section::Section},
    lab::people::keeping as lab,
    store::{
        WriteError,
        evening::lab_sessions,
        people::{
            keeping::{self, Held},
            sections,
        },
        site::sites,
    },
    web::{
        kit::{
            access::Access,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::posted::Posted,
    },
};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/sections/{id}/keeping", Access::Instructor, show),
        change("/front/sections/{id}/keeping/archive", Access::Instructor, archive),
        change("/front/sections/{id}/keeping/take-out", Access::Instructor, take_out),
        change("/front/sections/{id}/keeping/forget", Access::Instructor, forget),
        change("/front/sections/{id}/keeping/write-anew", Access::Instructor, write_anew),
    ]
}

#[derive(Template)]
#[template(path = "front/keeping.html")]
struct KeepingPage {
    frame: Frame,
    section: Section,
    /// Since when it is archived; empty when it is not.
    archived: String,
    /// When its people were forgotten; empty when they were not.
    forgotten: String,
    /// When the file was written anew since; empty when it still has to be.
    overwritten: String,
    held: Held,
    open: String,
    form: Form,
}

async fn show(State(state): State<AppState>, frame: Frame, Path(id): Path<SectionId>) -> Result<Response, WebError> {
    let form = Form::empty(&frame);
    Ok(Page::new(keeping_page(&state, frame, id, form).await?).into_response())
}

async fn keeping_page(state: &AppState, frame: Frame, id: SectionId, form: Form) -> Result<KeepingPage, WebError> {
    let mut conn = state.store.read().await?;
    let section = sections::find(&mut conn, id).await?.ok_or(WebError::NotFound("this section"))?;
    let zone = sites::find(&mut conn).await?.map_or(jiff::tz::TimeZone::UTC, |site| site.zone);
    let now = keeping::find(&mut conn, id).await?;
    let words = |at: Option<crate::domain::instant::Instant>| at.map_or_else(String::new, |at| at.as_words(&zone));
    Ok(KeepingPage {
        archived: words(now.archived_at),
        forgotten: words(now.forgotten_at),
        overwritten: words(now.overwritten_at),
        held: keeping::count(&mut conn, id).await?,
        open: lab_sessions::find_open(&mut conn, id).await?.map_or_else(String::new, |session| session.title),
        section,
        frame,
        form,
    })
}

fn path(id: SectionId) -> String {
    format!("/front/sections/{id}/keeping")
}

async fn archive(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<SectionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            lab::archive(tx, id, actor, at).await?;
            Ok(path(id))
        })
    });
    answered(&state, frame, id, &posted, written.await).await
}

async fn take_out(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<SectionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            lab::take_out(tx, id, actor, at).await?;
            Ok(path(id))
        })
    });
    answered(&state, frame, id, &posted, written.await).await
}

async fn forget(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<SectionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor, typed) = (posted.at(), posted.actor(), posted.get("name").trim().to_owned());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            lab::forget(tx, id, &typed, actor, at).await?;
            Ok(path(id))
        })
    });
    let written = written.await;
    if written.is_ok() {
        match state.store.scrub().await {
            Ok(()) => {
                let noted = state.store.write(state.server_stamp(), move |tx| {
                    Box::pin(async move {
                        lab::note_written_anew(tx, id, at).await?;
                        Ok(path(id))
                    })
                });
                if let Err(error) = noted.await {
                    tracing::warn!(%error, "the file was written anew, and that could not be noted");
                }
            }
            // the page says so and offers it again
            Err(error) => tracing::warn!(%error, "the file was not written anew after people were forgotten"),
        }
    }
    answered(&state, frame, id, &posted, written).await
}

/// Writes the file anew when that failed as the people were forgotten.
async fn write_anew(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<SectionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let at = posted.at();
    if let Err(error) = state.store.scrub().await {
        let words = format!("the file could not be written anew yet: {error}. Try again in a minute");
        return answered(&state, frame, id, &posted, Err(FieldErrors::whole(words).into())).await;
    }
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            lab::note_written_anew(tx, id, at).await?;
            Ok(path(id))
        })
    });
    answered(&state, frame, id, &posted, written.await).await
}

async fn answered(
    state: &AppState,
    frame: Frame,
    id: SectionId,
    posted: &Posted,
    written: Result<String, WriteError>,
) -> Result<Response, WebError> {
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let form = Form::refused(posted, errors);
            Ok(Page::new(keeping_page(state, frame, id, form).await?).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, posted)),
    }
}
