//! Taking back a sheet that was recorded by mistake, and letting it count again.

use axum::response::{IntoResponse, Response};

use crate::{
    domain::{field_errors::FieldErrors, ids::ExposureId, people::actor::Actor},
    lab::{
        baths::through_trays::TrayIds,
        exposure::{
            putting_right::{self, Change},
            seen::find_seen,
        },
    },
    store::WriteError,
    web::{
        kit::{error::WebError, page::see_other, state::AppState},
        request::posted::Posted,
    },
};

use super::correct::path_of;

/// Takes a sheet back; gives where it is shown, or what is wrong with the form.
///
/// # Errors
/// Missing when this person may not see it; whatever the database has against it.
pub async fn taken_back_by(
    state: &AppState,
    who: Actor,
    id: ExposureId,
    posted: &Posted,
) -> Result<Result<String, FieldErrors>, WebError> {
    let seen = find_seen(&mut *state.store.read().await?, id, who).await?.ok_or(WebError::NotFound("this sheet"))?;
    let mut reader = posted.reader();
    let why = reader.text("why", 1..=200);
    let why = reader.finish(why);
    let by = Change { who, at: posted.at(), version: posted.version(), ids: TrayIds::mint(&state.world) };
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            putting_right::take_back(tx, &seen, why?, by).await?;
            Ok(path_of(id, who))
        })
    });
    match written.await {
        Ok(landing) => Ok(Ok(landing)),
        Err(WriteError::Refused(errors)) => Ok(Err(errors)),
        Err(error) => Err(WebError::from_write(error, posted)),
    }
}

/// Lets a sheet count again.
///
/// # Errors
/// Missing when this person may not see it; whatever the database has against it.
pub async fn counted_again_by(
    state: &AppState,
    who: Actor,
    id: ExposureId,
    posted: &Posted,
) -> Result<Response, WebError> {
    let (at, version) = (posted.at(), posted.version());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            putting_right::count_again(tx, id, who, version, at).await?;
            Ok(path_of(id, who))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing).into_response()),
        Err(error) => Err(WebError::from_write(error, posted)),
    }
}
