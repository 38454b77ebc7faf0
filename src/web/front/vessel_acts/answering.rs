//! A vessel's page again, where what was sent to it was refused.

use axum::response::Response;

use crate::{
    domain::{book::Vessel, field_errors::FieldErrors},
    store::{Landing, WriteError},
    web::{
        front::{chemistry, waste},
        kit::{error::WebError, form::Form, frame::Frame, page::see_other, state::AppState},
        request::posted::Posted,
    },
};

/// Where a write led, or the page again with what was typed.
pub(in crate::web::front) async fn answer(
    state: &AppState,
    frame: Frame,
    vessel: Vessel,
    act: &'static str,
    posted: &Posted,
    written: Result<Landing, WriteError>,
) -> Result<Response, WebError> {
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => show_again(state, frame, vessel, act, posted, errors).await,
        Err(error) => Err(WebError::from_write(error, posted)),
    }
}

/// The vessel's page with the form that was refused.
pub(in crate::web::front) async fn show_again(
    state: &AppState,
    frame: Frame,
    vessel: Vessel,
    act: &'static str,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let refused = Some((act, Form::refused(posted, errors)));
    match vessel {
        Vessel::Batch(id) => chemistry::batch::show_with(state, frame, id, refused).await,
        Vessel::Container(id) => waste::container::show_with(state, frame, id, refused).await,
    }
}
