//! Leaving: at one click, or by itself after idling.

use axum::{
    Extension,
    extract::State,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;

use crate::{
    store::people::sign_ins::{Person, SHARED_IDLE_MINUTES},
    web::kit::{
        access::Recognised,
        cookies,
        frame::{Frame, Whose},
        leaving,
        page::see_other,
        state::AppState,
    },
};

use super::sheet::Sheet;

const LEFT_OUT: &str =
    "You were left out after 15 idle minutes. What you saved is safe: come back with your seat key, or sign in again.";

/// Ends the sign-in and goes to the door.
pub async fn leave(State(state): State<AppState>, jar: CookieJar) -> Response {
    end(&state, &jar).await;
    (cookies::forgotten(jar, &state.reach), see_other("/")).into_response()
}

/// Where the pages of a shared computer lead by themselves after idling.
pub async fn left(
    State(state): State<AppState>,
    Extension(recognised): Extension<Recognised>,
    frame: Frame,
    jar: CookieJar,
) -> Response {
    if let Some(sign_in) = recognised.sign_in() {
        // an idle page in one tab must not end the work in another
        let idle = state.now().micros_since(sign_in.seen_at);
        if idle < (SHARED_IDLE_MINUTES - 1) * 60_000_000 {
            return see_other(match sign_in.person {
                Person::Student { .. } => "/bench",
                Person::Staff { .. } => "/front",
            });
        }
    }
    end(&state, &jar).await;
    let frame = Frame { whose: Whose::Nobody, shared: false, dim: false, ..frame };
    (cookies::forgotten(jar, &state.reach), Sheet::noticing(frame, LEFT_OUT)).into_response()
}

/// Ends this browser's sign-in on the server.
async fn end(state: &AppState, jar: &CookieJar) {
    let Some(hash) = cookies::token_hash(jar) else { return };
    state.shown.clear(&hash);
    leaving::end(state, hash).await;
}
