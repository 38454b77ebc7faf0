//! What staff does from the floor: says something to all benches, answers a call, keeps the dark
//! room's door.

use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        evening::{announcement::Announcement, lab_session::LabSession, sheet_way::Place},
        ids::{HelpCallId, LabSessionId, SheetWayId},
    },
    store::{
        WriteError,
        camera::cameras,
        evening::{announcements, help_calls, lab_sessions, sheet_ways},
        people::change_log,
    },
    web::{
        kit::{
            access::{Access, Staff},
            error::WebError,
            form::Form,
            frame::Frame,
            page::see_other,
            routes::{Route, change},
            state::AppState,
        },
        request::posted::Posted,
    },
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        change("/front/sessions/{id}/floor/say", Access::Staff, say),
        change("/front/sessions/{id}/floor/unsay", Access::Staff, unsay),
        change("/front/sessions/{id}/floor/calls/{call}", Access::Staff, answer_call),
        change("/front/sessions/{id}/floor/ways/{way}", Access::Staff, move_sheet),
    ]
}

fn floor_of(id: LabSessionId) -> String {
    format!("/front/sessions/{id}/floor")
}

async fn session_of(tx: &mut sqlx::SqliteConnection, id: LabSessionId) -> Result<LabSession, WriteError> {
    lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("this session"))
}

/// Says something to all benches, in the place of what was said before.
async fn say(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut r = posted.reader();
    let words = r.text("words", 1..=160);
    let words = match r.finish(words) {
        Ok(words) => words,
        Err(errors) => {
            let form = Form::refused(&posted, errors).prefixed("say");
            return Ok(super::floor(&state, frame, id, form, false).await?.unprocessable().into_response());
        }
    };
    let said = Announcement { id: state.mint(), words, said: posted.at() };
    let (at, actor, by) = (posted.at(), posted.actor(), staff.account.into());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                session_of(tx, id).await?;
                announcements::insert(tx, id, &said, by).await?;
                change_log::insert(tx, at, actor, "said to all benches", "announcement", said.id, "").await?;
                Ok(floor_of(id))
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// Takes down what was said.
async fn unsay(
    State(state): State<AppState>,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let at = posted.at();
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                session_of(tx, id).await?;
                announcements::end(tx, id, at).await?;
                Ok(floor_of(id))
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// Somebody went to the student who called.
async fn answer_call(
    State(state): State<AppState>,
    staff: Staff,
    Path((id, call)): Path<(LabSessionId, HelpCallId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor, by) = (posted.at(), posted.actor(), staff.account.into());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                session_of(tx, id).await?;
                // answered by another meanwhile: that is what was wanted
                if help_calls::end(tx, call, by, at).await? {
                    change_log::insert(tx, at, actor, "call for help answered", "help_call", call, "").await?;
                }
                Ok(floor_of(id))
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// Moves a sheet on, or ends its way: whoever keeps the dark room's door sees better than the page.
async fn move_sheet(
    State(state): State<AppState>,
    Path((id, way)): Path<(LabSessionId, SheetWayId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut r = posted.reader();
    let to = r.choice("to", |word| if word == "ended" { Some(None) } else { Place::from_words(word).map(Some) });
    let to = r.finish(to).map_err(WebError::Refused)?;
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let found = sheet_ways::find(tx, way).await?.filter(|found| found.session == id);
                // its way has ended meanwhile: nothing is left to move
                let Some(found) = found else { return Ok(floor_of(id)) };
                match to {
                    Some(place) if place > found.place => sheet_ways::update_place(tx, way, place, at).await?,
                    // moved on by its students meanwhile
                    Some(_) => return Ok(floor_of(id)),
                    None => sheet_ways::end(tx, way, at).await?,
                }
                let camera = cameras::find(tx, found.camera).await?.map_or(0, |camera| camera.number);
                let detail = format!("camera {camera}: {}", to.map_or("its way ended", Place::as_str));
                change_log::insert(tx, at, actor, "sheet moved", "sheet_way", way, &detail).await?;
                Ok(floor_of(id))
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
