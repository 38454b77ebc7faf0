//! Which film is in a camera that holds film of its own: its speed and reciprocity count, not those of
//! the session's paper.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};

use crate::{
    domain::{exposure::aim::Aim, ids::PaperId},
    lab::exposure::film,
    store::WriteError,
    web::{
        kit::{access::Bench, error::WebError, form::Form, frame::Frame, page::see_other, state::AppState},
        request::posted::Posted,
    },
};

use super::desk::Desk;

/// Says which film is in the student's camera.
pub async fn put_in(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let named: Option<PaperId> = posted.get("film").parse().ok();
    let (at, actor, student) = (posted.at(), bench.actor(), bench.student);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            film::put_in(tx, (actor, student), named, at).await?;
            Ok("/bench/exposures".to_owned())
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let asking = Form::empty(&frame);
            let film = Some(Form::refused(&posted, errors));
            let desk = Desk {
                at: posted.at(),
                aim: Aim::MIDDLE,
                light: None,
                asking,
                sign: None,
                counted: None,
                recording: None,
                film,
            };
            Ok(desk.page(&state, frame, &bench).await?.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
