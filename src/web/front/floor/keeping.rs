//! What staff does from the floor: says something to all benches, answers a call, keeps the dark
//! room's door.

use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        evening::{announcement::Announcement, sheet_way::Place},
        ids::{HelpCallId, LabSessionId, SheetWayId},
    },
    lab::evening::floor as doing,
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
                doing::say(tx, id, &said, (actor, by), at).await?;
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
                doing::unsay(tx, id, at).await?;
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
                doing::answer_call(tx, id, call, (actor, by), at).await?;
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
                doing::move_sheet(tx, id, way, to, actor, at).await?;
                Ok(floor_of(id))
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
