//! Coming back to one's seat with the seat key.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;

use crate::{
    domain::{field_errors::FieldErrors, people::seat_key::SeatKey},
    store::{WriteError, people::students},
    web::{
        kit::{
            caller::Caller,
            error::WebError,
            frame::Frame,
            known_browser::{self, KnownFor},
            seat_keys,
            slowdown::Pace,
            state::AppState,
        },
        request::posted::Posted,
    },
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
    if !posted.cut().is_empty() {
        return Ok(Sheet::refused(frame, Way::Seat, &posted, posted.cut().clone()).into_response());
    }
    let key = match SeatKey::parse(posted.get("seat_key")) {
        Ok(key) => key,
        Err(error) => return wrong(frame, error.to_string()),
    };
    let unsaved = |error| WebError::from_write(error, &posted);
    // whoever had a seat in this browser stands in no line with strangers behind the same address
    let known = known_browser::find(&state, &jar, KnownFor::Seat).await.map_err(unsaved)?;
    let tries = known.map_or_else(|| format!("seat@{}", caller.key()), |number| format!("seat#{number}"));
    let turn = state.hashing.turn(&tries).await?;
    let hash = seat_keys::hash_of(&state, &key).await.map_err(unsaved)?;
    drop(turn);
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
            let jar = known_browser::mark(&state, jar, KnownFor::Seat, &beginning.token_hash()).await;
            Ok(beginning.go_on(&state, jar, &landing))
        }
        Err(error) => {
            // four words cannot be guessed as fast as they can be hashed, so a right key is let in whoever guesses; wrong
            // ones are slowed so that guessers hear of it
            if matches!(error, WriteError::Refused(_))
                && let Some(wait) = state.slowdown.wrong(&tries, Pace::ADDRESS, state.now())
            {
                return Ok(Sheet::waiting(frame, Way::Seat, &posted, wait));
            }
            Ok(Sheet::after(frame, Way::Seat, &posted, error)?.into_response())
        }
    }
}
