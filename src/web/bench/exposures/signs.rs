//! `/bench/signs`: pick what a negative looks like, read what usually causes it and what to try.

use askama::Template;
use axum::{
    extract::Query,
    response::{IntoResponse, Response},
};
use serde::Deserialize;

use crate::{
    domain::diagnosis::{SIGNS, Sign},
    web::{access::Bench, error::WebError, frame::Frame, page::Page},
};

use super::sheet::{Look, looks};

#[derive(Debug, Deserialize)]
pub struct Asked {
    looks: Option<String>,
}

#[derive(Template)]
#[template(path = "bench/signs.html")]
struct SignsPage {
    frame: Frame,
    picked: Option<Sign>,
    signs: [Sign; 16],
    looks: Vec<Look>,
}

/// The signs to pick from, and the one picked.
pub async fn show(frame: Frame, _bench: Bench, Query(asked): Query<Asked>) -> Result<Response, WebError> {
    let picked = match asked.looks.as_deref() {
        None | Some("") => None,
        Some(key) => Some(Sign::from_key(key).ok_or(WebError::NotFound("this sign"))?),
    };
    Ok(Page::new(SignsPage { frame, picked, signs: SIGNS, looks: looks("look") }).into_response())
}
