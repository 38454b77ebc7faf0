//! The CSV files, to be fetched one by one.

use askama::Template;
use axum::{
    extract::{Path, Query, State},
    http::header,
    response::{IntoResponse, Response},
};

use serde::Deserialize;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        field_errors::FieldErrors,
        ids::{LabSessionId, SectionId},
    },
    export::{
        self, SiteFile, file_name,
        oneroster::{
            Given,
            check::{faults, is_identifier},
        },
    },
    store::{evening::lab_sessions, people::sections},
    web::kit::{
        access::Access,
        error::WebError,
        form::Form,
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
        page("/front/sessions/{id}/exports/oneroster", Access::Staff, oneroster),
        page("/front/sessions/{id}/exports/oneroster.zip", Access::Staff, oneroster_zip),
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

/// What the bundle's form may carry in the address.
#[derive(Debug, Default, Deserialize)]
struct Asked {
    #[serde(default)]
    academic_session: String,
    #[serde(default)]
    school: String,
}

impl Asked {
    fn given(&self) -> Result<Given, FieldErrors> {
        let mut errors = FieldErrors::none();
        for (field, value) in [("academic_session", &self.academic_session), ("school", &self.school)] {
            if !value.trim().is_empty() && !is_identifier(value.trim()) {
                errors.add(field, "must be an identifier of at most 255 characters, or empty");
            }
        }
        let given =
            Given { academic_session: self.academic_session.trim().to_owned(), school: self.school.trim().to_owned() };
        if errors.is_empty() { Ok(given) } else { Err(errors) }
    }
}

#[derive(Template)]
#[template(path = "front/oneroster.html")]
struct OneRoster {
    frame: Frame,
    session: LabSession,
    form: Form,
    /// How many results there are.
    results: usize,
    left_out: Vec<String>,
    faults: Vec<String>,
}

async fn oneroster(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
) -> Result<Response, WebError> {
    let form = Form::empty(&frame);
    Ok(Page::new(oneroster_page(&state, frame, id, form).await?).into_response())
}

async fn oneroster_page(state: &AppState, frame: Frame, id: LabSessionId, form: Form) -> Result<OneRoster, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("that session"))?;
    let bundle = export::oneroster::bundle(&mut conn, id, &Given::default()).await?;
    let bundle = bundle.ok_or(WebError::NotFound("that session"))?;
    let lines = |name: &str| {
        let file = bundle.files.iter().find(|(file, _)| file == name);
        file.map_or(0, |(_, bytes)| csv::Reader::from_reader(bytes.as_slice()).records().count())
    };
    Ok(OneRoster {
        results: lines("results.csv"),
        faults: faults(&bundle.files),
        left_out: bundle.left_out,
        frame,
        session,
        form,
    })
}

async fn oneroster_zip(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let given = match asked.given() {
        Ok(given) => given,
        Err(errors) => {
            let values = [("academic_session", asked.academic_session.clone()), ("school", asked.school.clone())];
            let form = Form::filled(&frame, 0, values).with_errors(errors);
            return Ok(Page::new(oneroster_page(&state, frame, id, form).await?).unprocessable().into_response());
        }
    };
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("that session"))?;
    let bundle = export::oneroster::bundle(&mut conn, id, &given).await?.ok_or(WebError::NotFound("that session"))?;
    // a bundle that the standard would refuse is not given away
    let found = faults(&bundle.files);
    if !found.is_empty() {
        return Err(WebError::Ours(format!("the bundle breaks the standard: {}", found.join("; "))));
    }
    let name = format!("OneRoster {} {}.zip", session.held_on, file_name::safe(&session.title));
    let kind = (header::CONTENT_TYPE, "application/zip".to_owned());
    Ok(([kind, (header::CONTENT_DISPOSITION, file_name::attachment(&name))], bundle.zipped()).into_response())
}

fn named(what: &str, session: &LabSession) -> String {
    format!("{what} {} {}.csv", session.held_on, file_name::safe(&session.title))
}

/// A file the browser keeps under that name instead of showing it.
fn kept_as(name: &str, bytes: Vec<u8>) -> Response {
    let kind = (header::CONTENT_TYPE, "text/csv; charset=utf-8".to_owned());
    ([kind, (header::CONTENT_DISPOSITION, file_name::attachment(name))], bytes).into_response()
}
