//! The theme: light, or dim for a computer near the darkroom door.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;

use crate::web::{
    every_route::nearest_page,
    kit::{cookies, page::see_other, state::AppState},
    request::posted::Posted,
};

/// Chooses a theme and goes back to the page.
pub async fn choose(State(state): State<AppState>, jar: CookieJar, posted: Posted) -> Response {
    let dim = posted.get("theme") == "dim";
    (jar.add(cookies::theme(dim, &state.reach)), see_other(nearest_page(posted.get("back")))).into_response()
}
