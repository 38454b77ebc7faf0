//! One table of all routes: it builds the router, and the tests walk it with every role.

use std::sync::LazyLock;

use axum::{
    Router,
    extract::{DefaultBodyLimit, Request},
    http::Method,
    middleware::{self, Next},
};

use super::{
    bench, door, front,
    kit::{
        access::{self, Access},
        assets, layers,
        page::is_local,
        routes::{Route, page},
        state::AppState,
    },
};

/// Every route there is.
pub fn table() -> Vec<Route> {
    let mut table =
        vec![page("/static/{hash}/{*name}", Access::Open, assets::show), page("/health", Access::Open, layers::health)];
    table.extend(door::routes());
    table.extend(bench::routes());
    table.extend(front::routes());
    table
}

/// The patterns of all pages: the table itself is dear to build.
static PAGES: LazyLock<Vec<&'static str>> =
    LazyLock::new(|| table().into_iter().filter(|route| route.method == Method::GET).map(|route| route.path).collect());

/// How many parts the longest path of a page has.
fn most_parts() -> usize {
    PAGES.iter().map(|path| path.split('/').count()).max().unwrap_or(1)
}

/// Whether there is a page at this path.
fn is_page(path: &str) -> bool {
    let fits = |pattern: &&'static str| {
        let (mut pattern, mut path) = (pattern.split('/'), path.split('/'));
        loop {
            match (pattern.next(), path.next()) {
                (None, None) => return true,
                (Some(part), Some(given)) if part == given => {}
                (Some(part), Some(given)) if part.starts_with('{') && !given.is_empty() => {}
                _ => return false,
            }
        }
    };
    PAGES.iter().any(fits)
}

/// The page itself, or the one above: a form shown again stands at an address that is only sent to.
pub fn nearest_page(path: &str) -> &str {
    // an address is short; and no page lies deeper than the deepest
    let mut path = if is_local(path) { path } else { "" };
    if let Some((deepest, _)) = path.match_indices('/').nth(most_parts()) {
        path = &path[..deepest];
    }
    while !path.is_empty() && !is_page(path) {
        path = path.rsplit_once('/').map_or("", |(above, _)| above);
    }
    if path.is_empty() { "/" } else { path }
}

/// The whole application.
pub fn router(state: AppState) -> Router {
    let mut router = Router::new();
    for Route { path, access, takes, handler, .. } in table() {
        let guarded = handler.layer(DefaultBodyLimit::max(takes.body)).layer(middleware::from_fn(
            move |mut request: Request, next: Next| {
                request.extensions_mut().insert(takes);
                access::admit(access, request, next)
            },
        ));
        router = router.route(path, guarded);
    }
    layers::dress(router.fallback(layers::no_such_page), state)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        domain::{
            destination::Destination,
            ids::{BatchId, ContainerId, ExposureId, Id, LabSessionId},
        },
        web::kit::addresses::address_of,
    };

    #[test]
    fn a_page_is_found_by_its_pattern_and_a_forms_address_is_none() {
        for path in ["/", "/bench", "/front/accounts", "/front/accounts/7", "/front/sessions/7/floor"] {
            assert!(is_page(path), "{path}");
        }
        for path in ["", "/leave", "/front/accounts/", "/front/accounts/7/end", "/no/such/page"] {
            assert!(!is_page(path), "{path}");
        }
    }

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

    #[test]
    fn every_destination_leads_to_a_page() {
        let nil = uuid::Uuid::nil();
        let (sheet, session) = (ExposureId::from_uuid(nil), LabSessionId::from_uuid(nil));
        let all = [
            Destination::Camera,
            Destination::Hole,
            Destination::Sheets,
            Destination::Prints,
            Destination::Report,
            Destination::Sheet(sheet),
            Destination::SheetForStaff(sheet),
            Destination::SheetOnFloor(session, sheet),
            Destination::Batch(BatchId::from_uuid(nil)),
            Destination::Container(ContainerId::from_uuid(nil)),
        ];
        for destination in all {
            assert!(is_page(&address_of(&destination)), "{destination:?}");
        }
    }
}
