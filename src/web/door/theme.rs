//! The theme: light, or dim for a computer near the darkroom door.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;

use crate::web::{
    kit::{
        cookies,
        page::{is_local, see_other},
        routes,
        state::AppState,
    },
    request::posted::Posted,
};

/// Chooses a theme and goes back to the page.
pub async fn choose(State(state): State<AppState>, jar: CookieJar, posted: Posted) -> Response {
    let dim = posted.get("theme") == "dim";
    (jar.add(cookies::theme(dim, &state.reach)), see_other(nearest_page(posted.get("back")))).into_response()
}

/// The page itself, or the one above: a form shown again stands at an address that is only sent to.
pub fn nearest_page(path: &str) -> &str {
    // an address is short; and no page lies deeper than the deepest
    let mut path = if is_local(path) { path } else { "" };
    if let Some((deepest, _)) = path.match_indices('/').nth(routes::most_parts()) {
        path = &path[..deepest];
    }
    while !path.is_empty() && !routes::is_page(path) {
        path = path.rsplit_once('/').map_or("", |(above, _)| above);
    }
    if path.is_empty() { "/" } else { path }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn after_a_refused_form_the_theme_leads_to_the_page_above_it() {
        assert_eq!(nearest_page("/front/accounts/7/end"), "/front/accounts/7");
        assert_eq!(nearest_page("/bench/camera"), "/bench/camera");
        assert_eq!(nearest_page("/bench/camera/join"), "/bench/camera");
        assert_eq!(nearest_page("//elsewhere.test/x"), "/");
    }

    #[test]
    fn an_address_of_nothing_but_slashes_leads_home() {
        assert_eq!(nearest_page(&"/".repeat(1_000_000)), "/");
        assert_eq!(
            nearest_page(&format!("/bench{}", "/x".repeat(240))),
            "/bench",
            "none is deeper than the deepest page"
        );
        assert_eq!(nearest_page(&format!("/bench/camera?{}", "/x".repeat(100_000))), "/");
    }
}
