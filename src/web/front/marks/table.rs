//! A session's marks as one table that is marked in: students down, criteria across. Without
//! script it is one form; with script every cell is saved as it is left.

use askama::Template;
use axum::{
    extract::{Path, State},
    http::{HeaderMap, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde_json::{Value, json};

use crate::{
    domain::{
        evening::lab_session::{LabSession, SessionState},
        field_errors::FieldErrors,
        ids::{LabSessionId, PersonId, StudentId},
        marking::{
            mark::{MarkSheet, MarkState, Standing, Worth},
            rubric::{Criterion, Rubric},
        },
    },
    drawing::spread::Spread,
    lab::marking::{
        cells::Said,
        plan,
        suggestions::{self, Suggestions},
        table::Table as Marks,
    },
    store::{
        Stale, WriteError,
        marking::{
            marks::{self, Marked},
            stock_phrases,
        },
        people::{change_log, names as people},
    },
    web::{
        kit::{
            access::Staff,
            assets,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::{
    cells::{self, Names},
    session_and_rubric, sheet_path, table_path,
};

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
    takeable: usize,
    /// Whom the session's record does not know, once it is over: a person decides.
    workless: Vec<(String, String)>,
    elsewhere: i64,
    spread: Spread,
    phrases: Vec<String>,
    form: Form,
}

impl Table {
    fn script(&self) -> String {
        assets::address("marks.js")
    }
}

/// One student's line.
struct Line {
    student: StudentId,
    path: String,
    roster_number: String,
    name: String,
    struck_off: bool,
    /// Whether nothing of the session is on record and nothing was given.
    workless: bool,
    cells: Vec<Cell>,
    standing: &'static str,
    standing_name: String,
    comment: String,
    comment_had: String,
    comment_name: String,
    had_comment_name: String,
    had_standing_name: String,
    seen_name: String,
    phrase_name: String,
    seen: i64,
    total: String,
    out_of: String,
    state: MarkState,
}

/// One cell of the table.
struct Cell {
    criterion: String,
    name: String,
    value: String,
    had: String,
    had_name: String,
    seen: i64,
    seen_name: String,
    error: String,
    /// What the record suggests; empty for a criterion judged by eye.
    suggestion: String,
    /// What is typed to take it; empty when there is nothing to take.
    take: String,
    evidence: String,
    evidence_path: String,
    /// Why something else is given; its field is there once it is asked for.
    reason: Option<String>,
    reason_name: String,
    reason_error: String,
}

/// What a cell without points shows.
const NO_POINTS: &str = "–";

pub(super) async fn show(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<LabSessionId>,
) -> Result<Response, WebError> {
    Ok(Page::new(table_page(&state, frame, &staff, id, None).await?).into_response())
}

async fn table_page(
    state: &AppState,
    frame: Frame,
    staff: &Staff,
    id: LabSessionId,
    refused: Option<(&Posted, FieldErrors)>,
) -> Result<Table, WebError> {
    let mut conn = state.store.read().await?;
    let loaded = Marks::find(&mut conn, id).await?.ok_or(WebError::NotFound("that session"))?;
    let section = crate::store::people::sections::find(&mut conn, loaded.session.section).await?;
    let elsewhere = marks::count_elsewhere(&mut conn, id).await?;
    let phrases = stock_phrases::list(&mut conn, staff.account).await?;
    let typed = refused.as_ref().map(|(posted, _)| *posted);
    let form = match refused.clone() {
        Some((posted, errors)) => Form::refused(posted, errors),
        None => Form::empty(&frame),
    };
    let lines: Vec<Line> = match &loaded.rubric {
        None => Vec::new(),
        Some(rubric) => {
            loaded.students.iter().map(|student| Line::of(&loaded, student, rubric, &form, typed)).collect()
        }
    };
    let in_state = |wanted| lines.iter().filter(|line| line.state == wanted).count();
    let states = [MarkState::Unmarked, MarkState::Part, MarkState::Whole, MarkState::Excused, MarkState::GivenBack];
    let tally = states
        .into_iter()
        .filter(|state| *state != MarkState::Excused || in_state(*state) > 0)
        .map(|state| format!("{} {}", in_state(state), state.in_words()))
        .collect::<Vec<_>>()
        .join(", ");
    let (whole, given_back) = (in_state(MarkState::Whole), in_state(MarkState::GivenBack));
    let shares = loaded.rubric.iter().flat_map(|rubric| {
        loaded.students.iter().filter_map(|it| loaded.sheet(it.student).tenths_of_a_percent(rubric))
    });
    Ok(Table {
        section: section.map_or_else(String::new, |section| section.name),
        held_on: loaded.session.held_on.strftime("%-d %b %Y").to_string(),
        spread: Spread::of("spread", shares.collect()),
        takeable: lines
            .iter()
            .filter(|line| line.cells.iter().any(|it| it.value.is_empty() && !it.take.is_empty()))
            .count(),
        workless: lines
            .iter()
            .filter(|line| line.workless)
            .map(|line| (line.roster_number.clone(), line.name.clone()))
            .collect(),
        frame,
        session: loaded.session,
        rubric: loaded.rubric,
        lines,
        tally,
        whole,
        given_back,
        elsewhere,
        phrases,
        form,
    })
}

impl Line {
    fn of(loaded: &Marks, student: &Marked, rubric: &Rubric, form: &Form, typed: Option<&Posted>) -> Self {
        let sheet = loaded.sheet(student.student);
        let path = sheet_path(loaded.session.id, student.student);
        let names = Names(Some(student.student));
        let suggestions = loaded.suggestions.get(&student.student);
        // what was sent and refused is shown as it was typed
        let kept =
            |name: &str, stored: &str| typed.map_or_else(|| stored.to_owned(), |posted| posted.get(name).to_owned());
        let comment_name = names.overall("overall");
        Self {
            cells: rubric
                .criteria
                .iter()
                .map(|criterion| Cell::of(&sheet, criterion, suggestions, names, form, typed, &path))
                .collect(),
            student: student.student,
            roster_number: student.roster_number.clone(),
            name: student.name.clone(),
            struck_off: student.struck_off,
            workless: matches!(loaded.session.state, SessionState::Closed { .. })
                && sheet.state(rubric) == MarkState::Unmarked
                && suggestions.is_some_and(Suggestions::lack_work),
            standing: sheet.standing.as_str(),
            standing_name: names.overall("standing"),
            comment: kept(&comment_name, &sheet.comment),
            comment_had: sheet.comment.clone(),
            comment_name,
            had_comment_name: names.overall("had-overall"),
            had_standing_name: names.overall("had-standing"),
            seen_name: names.overall("seen-overall"),
            phrase_name: names.overall("phrase"),
            seen: sheet.comment_version,
            total: sheet.total(rubric).map_or_else(|| NO_POINTS.to_owned(), |points| points.to_string()),
            out_of: sheet.out_of(rubric).to_string(),
            state: sheet.state(rubric),
            path,
        }
    }

    fn standings(&self) -> [&'static str; 3] {
        Standing::ALL.map(Standing::as_str)
    }
}

impl Cell {
    fn of(
        sheet: &MarkSheet,
        criterion: &Criterion,
        suggestions: Option<&Suggestions>,
        names: Names,
        form: &Form,
        typed: Option<&Posted>,
        path: &str,
    ) -> Self {
        let (said, seen) = Said::stored(sheet, criterion.id);
        let (name, reason_name) = (names.of("points", criterion.id), names.of("reason", criterion.id));
        let stored = said.worth.typed();
        let (value, had, seen) = match typed {
            Some(posted) => (
                posted.get(&name).to_owned(),
                posted.get(&names.of("had-points", criterion.id)).to_owned(),
                posted.get(&names.of("seen", criterion.id)).parse().unwrap_or(0),
            ),
            None => (stored.clone(), stored, seen),
        };
        // of somebody without any work the line says so once
        let suggestion = suggestions.filter(|it| !it.lack_work()).and_then(|it| it.find(criterion.id));
        let take = suggestions.and_then(|it| it.worth(criterion.id)).map_or_else(String::new, Worth::typed);
        let reason_error = form.error(&reason_name).to_owned();
        let typed_reason = typed.map(|posted| posted.get(&reason_name).to_owned()).filter(|reason| !reason.is_empty());
        let reason = typed_reason.or((!said.reason.is_empty()).then_some(said.reason));
        Self {
            error: form.error(&name).to_owned(),
            had_name: names.of("had-points", criterion.id),
            seen_name: names.of("seen", criterion.id),
            criterion: criterion.name.clone(),
            suggestion: suggestion.map_or_else(String::new, suggestions::in_words),
            evidence: suggestion.map_or_else(String::new, |it| it.evidence.clone()),
            evidence_path: format!("{path}#criterion-{}", criterion.id),
            reason: if reason_error.is_empty() { reason } else { Some(reason.unwrap_or_default()) },
            name,
            value,
            had,
            seen,
            take,
            reason_name,
            reason_error,
        }
    }
}

/// Saves what was typed into the table: all of it from the form, one line at a time from the script,
/// which asks for JSON and is answered with the line as it is now.
pub(super) async fn save(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(session): Path<LabSessionId>,
    headers: HeaderMap,
    posted: Posted,
) -> Result<Response, WebError> {
    let by_script = headers.get(header::ACCEPT).is_some_and(|kind| kind == "application/json");
    let (form, by, at) = (posted.clone(), PersonId::from(staff.account), posted.at());
    let written =
        state.store.write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let (plan, rubric) = plan::find_to_mark(tx, session).await?;
                let mut errors = FieldErrors::none();
                let mut clashes = Vec::new();
                for it in marks::list_students(tx, session).await? {
                    if !cells::speaks_of(&form, it.student) {
                        continue;
                    }
                    let names = Names(Some(it.student));
                    let mut reader = form.reader();
                    let read =
                        match cells::save(tx, &mut reader, &form, names, &plan, &rubric, it.student, by).await {
                            Ok(said) => reader.finish(said),
                            Err(WriteError::Refused(more)) => Err(more),
                            Err(WriteError::Stale(stale)) => {
                                clashes.extend(stale.fields.into_iter().map(|(name, sent, now)| {
                                    (format!("Number {}, {name}", it.roster_number), sent, now)
                                }));
                                continue;
                            }
                            Err(error) => return Err(error),
                        };
                    match read {
                        Ok(said) if said.is_empty() => {}
                        Ok(said) => {
                            let detail = format!("{}: {said}", plan.title);
                            let actor = form.actor();
                            change_log::insert(tx, at, actor, "marks entered", "student", it.student, &detail).await?;
                        }
                        Err(more) => {
                            for (field, message) in more.iter() {
                                errors.add(field, message);
                            }
                        }
                    }
                }
                // one refusal or clash refuses the whole sending: nothing is stored by halves
                if !clashes.is_empty() {
                    let what = "a mark in this table".to_owned();
                    return Err(WriteError::Stale(Box::new(Stale {
                        what,
                        path: table_path(session).into(),
                        fields: clashes,
                    })));
                }
                if !errors.is_empty() {
                    return Err(errors.into());
                }
                Ok(table_path(session))
            })
        });
    let written = written.await;
    if by_script {
        return answer_script(&state, session, &posted, written).await;
    }
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let page = table_page(&state, frame, &staff, session, Some((&posted, errors))).await?;
            Ok(Page::new(page).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn answer_script(
    state: &AppState,
    session: LabSessionId,
    posted: &Posted,
    written: Result<String, WriteError>,
) -> Result<Response, WebError> {
    let (status, said) = match written {
        Ok(_) => (StatusCode::OK, json!({})),
        Err(WriteError::Refused(errors)) => {
            let errors: Vec<Value> = errors.iter().map(|(field, message)| json!([field, message])).collect();
            (StatusCode::UNPROCESSABLE_ENTITY, json!({ "errors": errors }))
        }
        Err(WriteError::Stale(stale)) => {
            let clash: Vec<Value> = stale.fields.iter().map(|(name, sent, now)| json!([name, sent, now])).collect();
            (StatusCode::CONFLICT, json!({ "clash": clash }))
        }
        // a cell is sent again with what it says by then: an answer the script lost is no second mark
        Err(error) => return Err(WebError::from_write(error, posted)),
    };
    let mut answer = rows(state, session).await?;
    if let (Some(answer), Some(said)) = (answer.as_object_mut(), said.as_object()) {
        answer.extend(said.clone());
    }
    Ok((status, as_json(&answer)).into_response())
}

fn as_json(value: &Value) -> ([(header::HeaderName, &'static str); 2], String) {
    let kind = (header::CONTENT_TYPE, "application/json; charset=utf-8");
    ([kind, (header::CACHE_CONTROL, "no-store")], value.to_string())
}

/// The table as it is now, for the script that looks again by itself.
pub(super) async fn now(State(state): State<AppState>, Path(id): Path<LabSessionId>) -> Result<Response, WebError> {
    Ok(as_json(&rows(&state, id).await?).into_response())
}

async fn rows(state: &AppState, id: LabSessionId) -> Result<Value, WebError> {
    let mut conn = state.store.read().await?;
    let (session, rubric) = session_and_rubric(&mut conn, id).await?;
    let names = people::list_names(&mut conn).await?;
    let mut sheets = marks::list_sheets(&mut conn, id).await?;
    let zone = crate::store::site::sites::find(&mut conn).await?.map_or(jiff::tz::TimeZone::UTC, |site| site.zone);
    let by = |who: Option<PersonId>| who.and_then(|who| names.get(&who).cloned()).unwrap_or_default();
    let mut lines = serde_json::Map::new();
    for it in marks::list_students(&mut conn, session.id).await? {
        let Some(rubric) = &rubric else { break };
        let sheet = sheets.remove(&it.student).unwrap_or_else(|| MarkSheet::blank(it.student));
        let mut cells = serde_json::Map::new();
        for criterion in &rubric.criteria {
            let (said, version) = Said::stored(&sheet, criterion.id);
            let marker = sheet.cells.get(&criterion.id).map(|mark| mark.marked_by);
            let cell = json!({ "typed": said.worth.typed(), "reason": said.reason, "seen": version, "by": by(marker) });
            cells.insert(criterion.id.to_string(), cell);
        }
        let line = json!({
            "total": sheet.total(rubric).map_or_else(|| NO_POINTS.to_owned(), |points| points.to_string()),
            "out_of": sheet.out_of(rubric).to_string(),
            "state": sheet.state(rubric).in_words(),
            "standing": sheet.standing.as_str(),
            "comment": sheet.comment,
            "seen": sheet.comment_version,
            "by": by(sheet.commented_by),
            "cells": cells,
        });
        lines.insert(it.student.to_string(), line);
    }
    Ok(json!({ "at": state.now().as_time(&zone), "lines": lines }))
}
