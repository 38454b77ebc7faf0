//! A session's marks as one table: students down, criteria across.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        ids::LabSessionId,
        lab_session::LabSession,
        mark::{MarkSheet, MarkState},
        points::Points,
        rubric::Rubric,
    },
    store::marks::{self, Marked},
    web::{error::WebError, form::Form, frame::Frame, page::Page, state::AppState},
};

use super::{session_and_rubric, sheet_path};

#[derive(Template)]
#[template(path = "front/marks.html")]
struct Table {
    frame: Frame,
    session: LabSession,
    section: String,
    held_on: String,
    rubric: Option<Rubric>,
    lines: Vec<Line>,
    tally: String,
    whole: usize,
    given_back: usize,
    elsewhere: i64,
    form: Form,
}

/// One student's line.
struct Line {
    path: String,
    roster_number: String,
    name: String,
    struck_off: bool,
    cells: Vec<String>,
    total: String,
    state: MarkState,
}

/// What a cell without points shows.
const NO_POINTS: &str = "–";

pub(super) async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let (session, rubric) = session_and_rubric(&mut conn, id).await?;
    let section = crate::store::sections::find(&mut conn, session.section).await?;
    let students = marks::list_students(&mut conn, id).await?;
    let mut sheets = marks::list_sheets(&mut conn, id).await?;
    let elsewhere = marks::count_elsewhere(&mut conn, id).await?;
    let lines: Vec<Line> = match &rubric {
        None => Vec::new(),
        Some(rubric) => students
            .into_iter()
            .map(|student| {
                let sheet = sheets.remove(&student.student).unwrap_or_else(|| MarkSheet::blank(student.student));
                Line::of(id, student, &sheet, rubric)
            })
            .collect(),
    };
    let in_state = |wanted| lines.iter().filter(|line| line.state == wanted).count();
    let tally = [MarkState::Unmarked, MarkState::Part, MarkState::Whole, MarkState::GivenBack]
        .map(|state| format!("{} {}", in_state(state), state.as_str()))
        .join(", ");
    let (whole, given_back) = (in_state(MarkState::Whole), in_state(MarkState::GivenBack));
    let form = Form::empty(&frame);
    Ok(Page::new(Table {
        section: section.map_or_else(String::new, |section| section.name),
        held_on: session.held_on.strftime("%-d %b %Y").to_string(),
        frame,
        session,
        rubric,
        lines,
        tally,
        whole,
        given_back,
        elsewhere,
        form,
    })
    .into_response())
}

impl Line {
    fn of(session: LabSessionId, student: Marked, sheet: &MarkSheet, rubric: &Rubric) -> Self {
        let written = |points: Option<Points>| points.map_or_else(|| NO_POINTS.to_owned(), |points| points.to_string());
        Self {
            path: sheet_path(session, student.student),
            roster_number: student.roster_number,
            name: student.name,
            struck_off: student.struck_off,
            cells: rubric.criteria.iter().map(|criterion| written(sheet.points(criterion.id))).collect(),
            total: written(sheet.total(rubric)),
            state: sheet.state(rubric),
        }
    }
}
