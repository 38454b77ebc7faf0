//! A section's sheets: forecast against made, in pictures and in a table.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::{
    calc::working::{seconds_text, stops_text},
    domain::{exposure::Exposure, ids::SectionId},
    store::{exposures, papers, sections, sites},
    web::{access::Staff, bench::exposures::result_words, error::WebError, frame::Frame, page::Page, state::AppState},
};

use super::pictures::{Pictures, cameras_of};

#[derive(Template)]
#[template(path = "front/section_sheets.html")]
struct SectionSheetsPage {
    frame: Frame,
    id: SectionId,
    name: String,
    pictures: Option<Pictures>,
    sheets: Vec<SheetLine>,
    /// Path and name of each paper among them.
    papers: Vec<(String, String)>,
}

struct SheetLine {
    path: String,
    number: i64,
    made_at: String,
    camera: String,
    light: String,
    forecast: String,
    made: String,
    apart: String,
    result: String,
    right: String,
}

/// The page.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    _staff: Staff,
    Path(id): Path<SectionId>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let section = sections::find(&mut conn, id).await?.ok_or(WebError::NotFound("this section"))?;
    let zone = sites::find(&mut conn).await?.map_or(TimeZone::UTC, |site| site.zone);
    let sheets = exposures::list_of_section(&mut conn, id).await?;
    let cameras = cameras_of(&mut conn, &sheets).await?;
    let mut used: Vec<_> = Vec::new();
    for sheet in &sheets {
        if !used.contains(&sheet.paper) {
            used.push(sheet.paper);
        }
    }
    let mut named = Vec::new();
    for paper in used {
        if let Some(paper) = papers::find(&mut conn, paper).await? {
            named.push((format!("/front/stockroom/papers/{}/experience", paper.id), paper.name));
        }
    }
    let line = |exposure: &Exposure| {
        let seconds = |ms: i64| seconds_text(ms as f64 / 1000.0);
        let camera = cameras.get(&exposure.camera);
        SheetLine {
            path: format!("/front/exposures/{}", exposure.id),
            number: exposure.number,
            made_at: exposure.made_at.as_words(&zone),
            camera: camera.map_or_else(String::new, |camera| format!("{}, {}", camera.number, camera.build().as_str())),
            light: exposure.light_typed.clone(),
            forecast: seconds(exposure.forecast_ms),
            made: seconds(exposure.made_ms),
            apart: stops_text((exposure.made_ms as f64 / exposure.forecast_ms as f64).log2()),
            result: result_words(exposure),
            right: exposure
                .right_time()
                .filter(|_| exposure.teaches())
                .map_or_else(String::new, |time| seconds_text(time.as_s())),
        }
    };
    Ok(Page::new(SectionSheetsPage {
        id,
        name: section.name,
        pictures: (!sheets.is_empty()).then(|| Pictures::of(&sheets, &cameras)),
        sheets: sheets.iter().rev().map(line).collect(),
        papers: named,
        frame,
    })
    .into_response())
}
