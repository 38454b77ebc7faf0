//! A student's marks: seen only once they were given back.

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        ids::{LabSessionId, StudentId},
        marking::{
            mark::{MarkChange, MarkSheet, Standing, Worth},
            points::Points,
            rubric::{Criterion, Level, Rubric},
        },
        measure::decimal,
    },
    store::{
        evening::lab_sessions,
        marking::{marks, rubrics},
        site::sites,
    },
    web::kit::{
        access::{Access, Bench},
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![page("/bench/marks", Access::Bench, show)]
}

#[derive(Template)]
#[template(path = "bench/marks.html")]
struct Marks {
    frame: Frame,
    sheets: Vec<Sheet>,
}

/// One session's marks.
struct Sheet {
    title: String,
    held_on: String,
    given_back: String,
    lines: Vec<Line>,
    total: String,
    out_of: Points,
    percent: String,
    /// Late or excused; empty as usual.
    standing: &'static str,
    comment: Vec<String>,
    changes: Vec<String>,
    /// Points were given by a rubric that the session no longer names.
    elsewhere: bool,
}

/// One criterion.
struct Line {
    criterion: String,
    description: String,
    /// `3 of 4`, `–`, or that it does not count.
    points: String,
    /// The level the points reach; empty without one.
    level: String,
    /// What the record showed when it was marked; empty for a criterion judged by eye.
    evidence: String,
    /// Why something else was given than the record suggests.
    reason: String,
    comment: Vec<String>,
}

async fn show(State(state): State<AppState>, frame: Frame, bench: Bench) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let zone = sites::find(&mut conn).await?.map_or(TimeZone::UTC, |site| site.zone);
    let mut sheets = Vec::new();
    for session in marks::list_given_back(&mut conn, bench.student).await? {
        sheets.extend(sheet_of(&mut conn, session, bench.student, &zone).await?);
    }
    Ok(Page::new(Marks { frame, sheets }).into_response())
}

/// The sheet of a session, if it is given back.
async fn sheet_of(
    conn: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
    zone: &TimeZone,
) -> Result<Option<Sheet>, WebError> {
    let sheet = marks::find_sheet(conn, session, student).await?;
    let Some(given_back_at) = sheet.given_back_at else { return Ok(None) };
    let plan = lab_sessions::find(conn, session).await?.ok_or(WebError::NotFound("that session"))?;
    let rubric = match plan.rubric {
        Some(rubric) => rubrics::find(conn, rubric).await?,
        None => None,
    };
    let changes = marks::list_changes(conn, session, student).await?;
    Ok(Some(Sheet {
        title: plan.title,
        held_on: plan.held_on.strftime("%-d %b %Y").to_string(),
        given_back: given_back_at.as_words(zone),
        lines: rubric.as_ref().map_or_else(Vec::new, |rubric| lines_of(rubric, &sheet)),
        total: written(rubric.as_ref().and_then(|rubric| sheet.total(rubric))),
        out_of: rubric.as_ref().map_or(Points::ZERO, |rubric| sheet.out_of(rubric)),
        standing: if sheet.standing == Standing::AsUsual { "" } else { sheet.standing.as_str() },
        percent: rubric
            .as_ref()
            .and_then(|rubric| sheet.tenths_of_a_percent(rubric))
            .map_or_else(String::new, |tenths| format!("{} %", decimal::written(tenths, 1))),
        comment: lines_in(&sheet.comment),
        elsewhere: sheet.cells.iter().any(|(id, mark)| {
            let counted = rubric.iter().flat_map(|rubric| &rubric.criteria).any(|it| it.id == *id);
            mark.points.is_some() && !counted
        }),
        changes: changes.iter().map(|change| change_words(change, zone)).collect(),
    }))
}

fn lines_of(rubric: &Rubric, sheet: &MarkSheet) -> Vec<Line> {
    rubric.criteria.iter().map(|criterion| Line::of(criterion, sheet)).collect()
}

impl Line {
    fn of(criterion: &Criterion, sheet: &MarkSheet) -> Self {
        let mark = sheet.cells.get(&criterion.id);
        let (points, level) = match sheet.worth(criterion.id) {
            Worth::LeftOut => ("does not count for you".to_owned(), None),
            Worth::Open => (format!("– of {}", criterion.max), None),
            Worth::Points(points) => {
                (format!("{points} of {}", criterion.max), Level::reached(&criterion.levels, points))
            }
        };
        Self {
            criterion: criterion.name.clone(),
            description: criterion.description.clone(),
            points,
            level: level.map_or_else(String::new, |level| level.words.clone()),
            evidence: mark.map_or_else(String::new, |mark| mark.evidence.clone()),
            reason: mark.map_or_else(String::new, |mark| mark.reason.clone()),
            comment: mark.map_or_else(Vec::new, |mark| lines_in(&mark.comment)),
        }
    }
}

fn lines_in(text: &str) -> Vec<String> {
    text.lines().filter(|line| !line.trim().is_empty()).map(str::to_owned).collect()
}

fn written(points: Option<Points>) -> String {
    points.map_or_else(|| "–".to_owned(), |points| points.to_string())
}

/// `21 Mar 2026, 10:00: Negative from 3 to 4 points; comment reworded`.
fn change_words(change: &MarkChange, zone: &TimeZone) -> String {
    let what = change.criterion.as_deref().unwrap_or("Comment on all of it");
    let words = |points: Option<Points>| points.map_or_else(|| "no points".to_owned(), |points| points.to_string());
    let points = (change.was != change.now).then(|| format!("from {} to {}", words(change.was), words(change.now)));
    let comment = change.comment_changed.then(|| "comment reworded".to_owned());
    let said = [points, comment].into_iter().flatten().collect::<Vec<_>>().join("; ");
    format!("{}: {what}, {said}", change.at.as_words(zone))
}
