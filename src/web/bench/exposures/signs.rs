//! `/bench/signs`: pick what a negative looks like, read what usually causes it and what to try, and go
//! back to the sheet with it.

use askama::Template;
use axum::{
    extract::{Query, State},
    response::{IntoResponse, Response},
};
use serde::Deserialize;

use crate::{
    domain::{
        exposure::diagnosis::{SIGNS, Sign},
        ids::ExposureId,
    },
    store::exposure::exposures,
    web::kit::{access::Bench, error::WebError, frame::Frame, page::Page, state::AppState},
};

use crate::web::fields::looks::{Look, looks};

#[derive(Debug, Deserialize)]
pub struct Asked {
    looks: Option<String>,
    /// The sheet that somebody looks at.
    sheet: Option<String>,
}

#[derive(Template)]
#[template(path = "bench/signs.html")]
struct SignsPage {
    frame: Frame,
    picked: Option<Sign>,
    signs: [Sign; 16],
    looks: Vec<Look>,
    /// The sheet looked at: its number and id; `None` before it is recorded.
    sheet: Option<(i64, ExposureId)>,
}

/// The signs to pick from, and the one picked.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let picked = match asked.looks.as_deref() {
        None | Some("") => None,
        Some(key) => Some(Sign::from_key(key).ok_or(WebError::NotFound("this sign"))?),
    };
    let sheet = match asked.sheet.as_deref() {
        None | Some("") => None,
        Some(id) => {
            let id = id.parse().map_err(|_| WebError::NotFound("this sheet"))?;
            let mut conn = state.store.read().await?;
            let found = exposures::find_of_student(&mut conn, id, bench.student).await?;
            Some((found.ok_or(WebError::NotFound("this sheet"))?.number, id))
        }
    };
    Ok(Page::new(SignsPage { frame, picked, signs: SIGNS, looks: looks("look"), sheet }).into_response())
}
