//! Correcting a sheet, taking it back, letting it count again.

use axum::{
    extract::{Path, State},
    response::Response,
};

use crate::{
    domain::ids::ExposureId,
    web::{
        kit::{access::Bench, error::WebError, frame::Frame, page::see_other, state::AppState},
        request::posted::Posted,
        sheets::{correct, take_back},
    },
};

use super::sheet;

/// The form that corrects a sheet.
pub async fn show_correction(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
) -> Result<Response, WebError> {
    correct::show_to(&state, frame, bench.actor(), id).await
}

/// Saves what was corrected.
pub async fn save_correction(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    correct::save_by(&state, frame, bench.actor(), id, &posted).await
}

/// Takes a sheet back.
pub async fn take_back(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    match take_back::taken_back_by(&state, bench.actor(), id, &posted).await? {
        Ok(landing) => Ok(see_other(&landing)),
        Err(errors) => sheet::refuse_taking_back(&state, frame, &bench, id, &posted, errors).await,
    }
}

/// Lets a sheet count again.
pub async fn count_again(
    State(state): State<AppState>,
    bench: Bench,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    take_back::counted_again_by(&state, bench.actor(), id, &posted).await
}
