//! The CSV files, to be fetched one by one.

use askama::Template;
use axum::{
    extract::{Path, State},
    http::header,
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        ids::{LabSessionId, SectionId},
        lab_session::LabSession,
    },
    export::{self, SiteFile, file_name},
    store::{lab_sessions, sections},
    web::{
        access::Access,
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

/// The routes of these pages.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/exports", Access::Staff, list),
        page("/front/exports/{file}", Access::Staff, site_file),
        page("/front/sections/{id}/exports/roster.csv", Access::Staff, roster),
        page("/front/sessions/{id}/exports", Access::Staff, of_session),
        page("/front/sessions/{id}/exports/marks.csv", Access::Staff, marks),
        page("/front/sessions/{id}/exports/exposures.csv", Access::Staff, exposures),
    ]
}

#[derive(Template)]
#[template(path = "front/exports.html")]
struct List {
    frame: Frame,
    files: [SiteFile; SiteFile::ALL.len()],
    sections: Vec<Section>,
}

/// A section's files.
struct Section {
    id: SectionId,
    name: String,
    sessions: Vec<LabSession>,
}

async fn list(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let mut shown = Vec::new();
    for section in sections::list(&mut conn).await? {
        let sessions = lab_sessions::list(&mut conn, section.id).await?;
        shown.push(Section { id: section.id, name: section.name, sessions });
    }
    Ok(Page::new(List { frame, files: SiteFile::ALL, sections: shown }).into_response())
}

#[derive(Template)]
#[template(path = "front/session_exports.html")]
struct OfSession {
    frame: Frame,
    session: LabSession,
}

async fn of_session(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("that session"))?;
    Ok(Page::new(OfSession { frame, session }).into_response())
}

async fn site_file(State(state): State<AppState>, Path(name): Path<String>) -> Result<Response, WebError> {
    let file = SiteFile::from_name(&name).ok_or(WebError::NotFound("that file"))?;
    let mut conn = state.store.read().await?;
    let bytes = file.bytes(&mut conn).await?;
    Ok(kept_as(file.name(), bytes))
}

async fn roster(State(state): State<AppState>, Path(id): Path<SectionId>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let section = sections::find(&mut conn, id).await?.ok_or(WebError::NotFound("that section"))?;
    let bytes = export::roster::bytes(&mut conn, id).await?;
    Ok(kept_as(&format!("roster {}.csv", file_name::safe(&section.name)), bytes))
}

async fn marks(State(state): State<AppState>, Path(id): Path<LabSessionId>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("that session"))?;
    let bytes = export::marks::bytes(&mut conn, id).await?.ok_or(WebError::NotFound("that session"))?;
    Ok(kept_as(&named("marks", &session), bytes))
}

async fn exposures(State(state): State<AppState>, Path(id): Path<LabSessionId>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("that session"))?;
    let bytes = export::exposures::bytes(&mut conn, Some(id)).await?;
    Ok(kept_as(&named("exposures", &session), bytes))
}

fn named(what: &str, session: &LabSession) -> String {
    format!("{what} {} {}.csv", session.held_on, file_name::safe(&session.title))
}

/// A file the browser keeps under that name instead of showing it.
fn kept_as(name: &str, bytes: Vec<u8>) -> Response {
    let kind = (header::CONTENT_TYPE, "text/csv; charset=utf-8".to_owned());
    ([kind, (header::CONTENT_DISPOSITION, file_name::attachment(name))], bytes).into_response()
}
