//! `/front/exposures/{id}`: where staff put right what was typed of a sheet.

use axum::{
    extract::{Path, State},
    response::Response,
};

use crate::{
    domain::ids::ExposureId,
    web::{
        kit::{
            access::{Access, Staff},
            error::WebError,
            frame::Frame,
            page::see_other,
            routes::{Route, change, page},
            state::AppState,
        },
        request::posted::Posted,
        sheets::{correct, take_back},
    },
};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/exposures/{id}", Access::Staff, show_correction),
        change("/front/exposures/{id}", Access::Staff, save_correction),
        change("/front/exposures/{id}/take-back", Access::Staff, take_back),
        change("/front/exposures/{id}/count-again", Access::Staff, count_again),
    ]
}

/// The form that corrects a sheet.
async fn show_correction(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<ExposureId>,
) -> Result<Response, WebError> {
    correct::show_to(&state, frame, staff.actor(), id).await
}

/// Saves what was corrected.
async fn save_correction(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    correct::save_by(&state, frame, staff.actor(), id, &posted).await
}

/// Takes a sheet back.
async fn take_back(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    match take_back::taken_back_by(&state, staff.actor(), id, &posted).await? {
        Ok(landing) => Ok(see_other(&landing)),
        Err(errors) => correct::refuse_taking_back(&state, frame, staff.actor(), id, &posted, errors).await,
    }
}

/// Lets a sheet count again.
async fn count_again(
    State(state): State<AppState>,
    staff: Staff,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    take_back::counted_again_by(&state, staff.actor(), id, &posted).await
}
