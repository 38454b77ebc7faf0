//! What a student does in the evening: a sheet begins its way and moves on, a call for help.

use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::lab::evening::ways;
use crate::{
    domain::{
        evening::{help_call::HelpCall, sheet_way::Place},
        ids::SheetWayId,
    },
    web::{
        kit::{
            access::{Access, Bench},
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

/// The routes of this part.
pub fn routes() -> Vec<Route> {
    vec![
        change("/bench/ways", Access::Bench, begin),
        change("/bench/ways/{id}", Access::Bench, move_on),
        change("/bench/call", Access::Bench, call),
        change("/bench/call/end", Access::Bench, end_call),
    ]
}

/// A sheet begins its way.
async fn begin(State(state): State<AppState>, bench: Bench, posted: Posted) -> Result<Response, WebError> {
    let (id, at) = (state.mint(), posted.at());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                ways::begin(tx, id, (bench.section, bench.student), at).await?;
                Ok("/bench".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// A sheet goes on, or is given up.
async fn move_on(
    State(state): State<AppState>,
    bench: Bench,
    Path(id): Path<SheetWayId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut r = posted.reader();
    let to = r.choice("to", |word| if word == "given up" { Some(None) } else { Place::from_words(word).map(Some) });
    let to = r.finish(to).map_err(WebError::Refused)?;
    let at = posted.at();
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                ways::move_on(tx, id, to, bench.student, at).await?;
                Ok("/bench".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// What stands for a call without a word: nobody has to type before they may ask.
const NO_WORD: &str = "come, please";

/// Calls for help.
async fn call(State(state): State<AppState>, frame: Frame, bench: Bench, posted: Posted) -> Result<Response, WebError> {
    let mut r = posted.reader();
    let why = r.text("why", 0..=80).map(|why| if why.is_empty() { NO_WORD.to_owned() } else { why });
    let why = match r.finish(why) {
        Ok(why) => why,
        Err(errors) => {
            let form = Form::refused(&posted, errors);
            return Ok(super::home::page(&state, frame, &bench, form).await?.unprocessable().into_response());
        }
    };
    let asked = HelpCall { id: state.mint(), student: bench.student, why, called: posted.at() };
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                ways::call(tx, bench.section, &asked).await?;
                Ok("/bench".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// Takes a call back.
async fn end_call(State(state): State<AppState>, bench: Bench, posted: Posted) -> Result<Response, WebError> {
    let at = posted.at();
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                ways::end_call(tx, bench.student, at).await?;
                Ok("/bench".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
