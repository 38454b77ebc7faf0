//! One table of all routes: it builds the router, and the tests walk it with every role.

use std::sync::LazyLock;

use axum::{
    Router,
    extract::{DefaultBodyLimit, Request},
    http::Method,
    middleware::{self, Next},
    routing::MethodRouter,
};

use super::{
    access::{self, Access},
    assets, layers,
    state::AppState,
};
use crate::web::{bench, door, front, request::takes::Takes};

/// One route: what is asked, who it is for, and what answers.
#[derive(Clone)]
pub struct Route {
    /// GET for a page, POST for a change.
    pub method: Method,
    /// The path, with parameters in braces.
    pub path: &'static str,
    /// Who it is for.
    pub access: Access,
    /// How much its form may send.
    pub takes: Takes,
    /// What answers.
    pub handler: MethodRouter<AppState>,
}

impl Route {
    /// The same, for a form that may send more or less than others.
    #[must_use]
    pub fn taking(self, takes: Takes) -> Self {
        Self { takes, ..self }
    }
}

/// What the forms of whoever is let in may send, unless their route says otherwise.
fn usual(access: Access) -> Takes {
    if access == Access::Open { Takes::DOOR } else { Takes::FORM }
}

/// A page: GET.
pub fn page<H, T>(path: &'static str, access: Access, handler: H) -> Route
where
    H: axum::handler::Handler<T, AppState>,
    T: 'static,
{
    Route { method: Method::GET, path, access, takes: usual(access), handler: axum::routing::get(handler) }
}

/// A change: POST.
pub fn change<H, T>(path: &'static str, access: Access, handler: H) -> Route
where
    H: axum::handler::Handler<T, AppState>,
    T: 'static,
{
    Route { method: Method::POST, path, access, takes: usual(access), handler: axum::routing::post(handler) }
}

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
pub fn most_parts() -> usize {
    PAGES.iter().map(|path| path.split('/').count()).max().unwrap_or(1)
}

/// Whether there is a page at this path.
pub fn is_page(path: &str) -> bool {
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

    #[test]
    fn a_page_is_found_by_its_pattern_and_a_forms_address_is_none() {
        for path in ["/", "/bench", "/front/accounts", "/front/accounts/7", "/front/sessions/7/floor"] {
            assert!(is_page(path), "{path}");
        }
        for path in ["", "/leave", "/front/accounts/", "/front/accounts/7/end", "/no/such/page"] {
            assert!(!is_page(path), "{path}");
        }
    }
}
