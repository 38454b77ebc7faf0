//! Taking back a sheet that was recorded by mistake, and letting it count again. Nothing is deleted.

use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::{
    domain::{
        exposure::{Exposure, TakenBack},
        field_errors::FieldErrors,
        ids::ExposureId,
        people::actor::Actor,
    },
    store::{
        WriteError,
        exposure::{exposures, prints},
    },
    web::{
        kit::{
            access::{Bench, Staff},
            error::WebError,
            frame::Frame,
            page::see_other,
            state::AppState,
        },
        request::posted::Posted,
        through_trays::{Through, TrayIds},
    },
};

use super::{
    correct,
    record::note,
    seen::{changeable, find_seen, path_of, stale, unmarked},
    sheet,
};

/// When and why a sheet was taken back, in words; empty when it counts.
pub fn taken_back_words(exposure: &Exposure, zone: &TimeZone) -> String {
    exposure.taken_back.as_ref().map_or_else(String::new, |taken| {
        format!("Taken back on {}: {}. It counts nowhere; it is kept.", taken.at.as_words(zone), taken.why)
    })
}

/// A student takes a sheet back.
pub async fn take_back(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    match taken_back_by(&state, bench.actor(), id, &posted).await? {
        Ok(landing) => Ok(see_other(&landing)),
        Err(errors) => sheet::refuse_taking_back(&state, frame, &bench, id, &posted, errors).await,
    }
}

/// Staff take a sheet back.
pub async fn take_back_by_staff(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    match taken_back_by(&state, staff.actor(), id, &posted).await? {
        Ok(landing) => Ok(see_other(&landing)),
        Err(errors) => correct::refuse_taking_back(&state, frame, staff.actor(), id, &posted, errors).await,
    }
}

/// A student lets a sheet count again.
pub async fn count_again(
    State(state): State<AppState>,
    bench: Bench,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    counted_again_by(&state, bench.actor(), id, &posted).await
}

/// Staff let a sheet count again.
pub async fn count_again_by_staff(
    State(state): State<AppState>,
    staff: Staff,
    Path(id): Path<ExposureId>,
    posted: Posted,
) -> Result<Response, WebError> {
    counted_again_by(&state, staff.actor(), id, &posted).await
}

async fn taken_back_by(
    state: &AppState,
    who: Actor,
    id: ExposureId,
    posted: &Posted,
) -> Result<Result<String, FieldErrors>, WebError> {
    let seen = find_seen(&mut *state.store.read().await?, id, who).await?.ok_or(WebError::NotFound("this sheet"))?;
    let mut reader = posted.reader();
    let why = reader.text("why", 1..=200);
    let why = reader.finish(why);
    let (ids, at, version) = (TrayIds::mint(state), posted.at(), posted.version());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            let why = why?;
            let exposure = changeable(tx, id, who).await?;
            let by = who.person().ok_or(WriteError::Forbidden("nobody is signed in"))?;
            if prints::count_of_exposure(tx, id).await? > 0 {
                let said =
                    "a contact print was recorded from it: correct the print’s negative first, or ask your instructor";
                return Err(FieldErrors::whole(said).into());
            }
            let through = Through::of_exposure(seen.site, &seen.session, &exposure);
            through.settle(tx, who, None, ids, at).await?;
            let taken = TakenBack { at, by, why };
            if !exposures::update_taken_back(tx, id, version, Some(&taken)).await? {
                return Err(stale(&exposure, who, vec![("Taken back".to_owned(), taken.why, String::new())]));
            }
            note(tx, at, who, "sheet taken back", &exposure).await?;
            Ok(path_of(id, who))
        })
    });
    match written.await {
        Ok(landing) => Ok(Ok(landing)),
        Err(WriteError::Refused(errors)) => Ok(Err(errors)),
        Err(error) => Err(WebError::from_write(error, posted)),
    }
}

async fn counted_again_by(state: &AppState, who: Actor, id: ExposureId, posted: &Posted) -> Result<Response, WebError> {
    let (at, version) = (posted.at(), posted.version());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let exposure = unmarked(tx, id, who).await?;
            if exposure.taken_back.is_none() {
                return Ok(path_of(id, who));
            }
            if !exposures::update_taken_back(tx, id, version, None).await? {
                return Err(stale(&exposure, who, vec![("Counts again".to_owned(), "yes".to_owned(), String::new())]));
            }
            note(tx, at, who, "sheet counts again", &exposure).await?;
            Ok(path_of(id, who))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing).into_response()),
        Err(error) => Err(WebError::from_write(error, posted)),
    }
}
