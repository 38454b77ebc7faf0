//! A page: a template and a status.

use askama::Template;
use axum::{
    http::StatusCode,
    response::{Html, IntoResponse, Redirect, Response},
};

use super::error::WebError;

/// A template to be shown with status 200, or 422 after [`Page::unprocessable`].
#[derive(Debug)]
pub struct Page<T> {
    template: T,
    status: StatusCode,
}

impl<T: Template> Page<T> {
    /// A page that is what was asked for.
    pub fn new(template: T) -> Self {
        Self { template, status: StatusCode::OK }
    }

    /// A form shown again with messages.
    #[must_use]
    pub fn unprocessable(self) -> Self {
        Self { status: StatusCode::UNPROCESSABLE_ENTITY, ..self }
    }

    /// The page with another status.
    #[must_use]
    pub fn with_status(self, status: StatusCode) -> Self {
        Self { status, ..self }
    }
}

impl<T: Template> IntoResponse for Page<T> {
    fn into_response(self) -> Response {
        match self.template.render() {
            Ok(html) => (self.status, Html(html)).into_response(),
            Err(error) => WebError::Ours(error.to_string()).into_response(),
        }
    }
}

/// Where to go after a change was saved.
pub fn see_other(landing: &str) -> Response {
    // a landing is always a path of ours
    Redirect::to(if is_local(landing) { landing } else { "/" }).into_response()
}

/// Whether this is a path of this server and nothing that a browser would take for another one's.
pub fn is_local(path: &str) -> bool {
    let plain = |c: char| !c.is_control() && c != '\\' && !c.is_whitespace();
    path.starts_with('/') && !path.starts_with("//") && path.chars().all(plain) && path.len() <= 500
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_paths_of_this_server_are_local() {
        for path in ["/", "/bench", "/front/sessions/1?x=2#y", "/bench/camera"] {
            assert!(is_local(path), "{path}");
        }
        for path in ["", "bench", "//elsewhere.test", "/\\elsewhere.test", "https://elsewhere.test/", "/\nx", "/\t/x"] {
            assert!(!is_local(path), "{path}");
        }
    }
}
