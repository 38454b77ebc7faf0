//! One route: a page or a change, and who it is for.

use axum::{http::Method, routing::MethodRouter};

use super::{access::Access, state::AppState};
use crate::web::request::takes::Takes;

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
