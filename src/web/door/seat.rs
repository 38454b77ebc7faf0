//! Coming back to one's seat with the seat key.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;

use crate::{
    domain::{field_errors::FieldErrors, seat_key::SeatKey},
    store::{WriteError, students},
    web::{caller::Caller, error::WebError, frame::Frame, posted::Posted, seat_keys, state::AppState},
};

use super::{
    beginning::{Beginning, Who, asked_for},
    sheet::{Sheet, Way},
};

const NO_SEAT: &str = "no seat has this key; look at your note again, or ask the front bench for a new key";

/// Comes back.
pub async fn come_back(
    State(state): State<AppState>,
    caller: Caller,
    frame: Frame,
    jar: CookieJar,
    posted: Posted,
) -> Result<Response, WebError> {
    let wrong = |frame, message: String| {
        Ok(Sheet::refused(frame, Way::Seat, &posted, FieldErrors::one("seat_key", message)).into_response())
    };
    let key = match SeatKey::parse(posted.get("seat_key")) {
        Ok(key) => key,
        Err(error) => return wrong(frame, error.to_string()),
    };
    let tries = format!("seat:{}", caller.key());
    tokio::time::sleep(state.slowdown.delay(&tries, state.now())).await;

    let hash = seat_keys::hash_of(&state, &key).await.map_err(|error| WebError::from_write(error, &posted))?;
    let beginning = Beginning::of(&state, &jar, &posted);
    let (whose, landing) = (beginning.clone(), asked_for(&posted, "/bench"));
    let written = state
        .store
        .write(beginning.stamp(), move |tx| {
            Box::pin(async move {
                let student = students::find_by_seat_key(tx, &hash)
                    .await?
                    .ok_or_else(|| FieldErrors::one("seat_key", NO_SEAT))?;
                whose.store(tx, Who::Student(student.id)).await?;
                Ok(landing)
            })
        })
        .await;
    match written {
        Ok(landing) => {
            state.slowdown.right(&tries);
            Ok(beginning.go_on(&state, jar, &landing))
        }
        Err(error) => {
            if matches!(error, WriteError::Refused(_)) {
                state.slowdown.wrong(&tries, state.now());
            }
            Ok(Sheet::after(frame, Way::Seat, &posted, error)?.into_response())
        }
    }
}
