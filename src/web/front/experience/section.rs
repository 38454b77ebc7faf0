//! A section's sheets: forecast against made, in pictures and in a table.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::lab::exposure::words::result_words;
use crate::{
    calc::{
        light::given_time::PAST_TABLE_NOTE,
        working::{seconds_text, stops_text},
    },
    domain::{
        exposure::{Exposure, starting_exposure::MOST_TEACHING},
        ids::SectionId,
    },
    drawing::narrowing::Narrowing,
    store::{exposure::exposures, people::sections, site::sites, stock::papers},
    web::kit::{access::Staff, error::WebError, frame::Frame, page::Page, state::AppState},
};

use super::{
    pictures::{Pictures, cameras_of},
    widths::{usual_base, widths_of_section},
};

#[derive(Template)]
#[template(path = "front/section_sheets.html")]
struct SectionSheetsPage {
    frame: Frame,
    id: SectionId,
    name: String,
    pictures: Option<Pictures>,
    sheets: Vec<SheetLine>,
    /// How the interval narrowed, a picture for each paper that its sheets have taught.
    narrowings: Vec<NarrowingOf>,
    /// Whether a time lies past the end of a maker's table, and what the star then means.
    past_table: bool,
    past_table_note: &'static str,
    /// Path and name of each paper among them.
    papers: Vec<(String, String)>,
}

/// How the interval narrowed on one paper.
struct NarrowingOf {
    paper: String,
    picture: Narrowing,
    widths: Vec<(usize, String)>,
    /// The metered time that the widths are for.
    base: String,
}

struct SheetLine {
    path: String,
    number: i64,
    made_at: String,
    camera: String,
    light: String,
    forecast: String,
    /// The light it was shown for, where that was another than found.
    forecast_for: String,
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
    let (mut named, mut narrowings) = (Vec::new(), Vec::new());
    for paper in used {
        if let Some(paper) = papers::find(&mut conn, paper).await? {
            let mut teaching = exposures::list_teaching(&mut conn, paper.id, MOST_TEACHING).await?;
            teaching.reverse();
            let widths = widths_of_section(&teaching, &paper, id);
            if !widths.is_empty() {
                narrowings.push(NarrowingOf {
                    paper: paper.name.clone(),
                    picture: Narrowing::of(&format!("narrowing-{}", narrowings.len() + 1), &widths),
                    widths: widths.iter().map(|width| (width.sheets, format!("± {:.2}", width.half_stops))).collect(),
                    base: seconds_text(usual_base(&teaching, &paper).as_s()),
                });
            }
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
            forecast_for: exposure.shown_for.clone(),
            made: seconds(exposure.made_ms),
            apart: stops_text((exposure.made_ms as f64 / exposure.forecast_ms as f64).log2()),
            result: result_words(exposure),
            right: exposure.right_time().filter(|_| exposure.teaches()).map_or_else(String::new, |time| {
                let star = if exposure.lesson_past_table() { " *" } else { "" };
                format!("{}{star}", seconds_text(time.as_s()))
            }),
        }
    };
    // cards may be typed in days later, and in any order
    let mut newest: Vec<&Exposure> = sheets.iter().collect();
    newest.sort_by_key(|sheet| std::cmp::Reverse((sheet.made_at, sheet.number)));
    Ok(Page::new(SectionSheetsPage {
        id,
        name: section.name,
        pictures: (!sheets.is_empty()).then(|| Pictures::of(&sheets, &cameras)),
        sheets: newest.into_iter().map(line).collect(),
        narrowings,
        past_table: sheets.iter().any(|sheet| sheet.teaches() && sheet.lesson_past_table()),
        past_table_note: PAST_TABLE_NOTE,
        papers: named,
        frame,
    })
    .into_response())
}
