//! `/bench/report`: a student's report on a session: answers, text and pictures, with their own
//! figures beside it. Drafts save by themselves while they are written.

mod pictures;

use std::collections::HashMap;

use askama::Template;
use axum::{
    extract::{Path, State},
    http::{HeaderMap, StatusCode, header},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::lab::exposure::words::result_words;
use crate::{
    calc::working::{figures, seconds_text},
    domain::{
        evening::lab_session::{LabSession, SessionState},
        exposure::{
            Exposure,
            print::{Print, PrintVerdict},
        },
        field_errors::FieldErrors,
        ids::{LabSessionId, QuestionId},
        marking::report::{LONGEST_ANSWER, MOST_PICTURES, Question, Report, ReportState, WrongReportStep, is_late},
        measure::typed_seconds::{exactly, parse_seconds},
    },
    store::{
        self, Stale, WriteError,
        evening::lab_sessions,
        exposure::{exposures, prints},
        marking::{report_pictures, reports},
        people::{change_log, students},
        site::sites,
    },
    web::{
        bench::at_bench::{Saved, last_saved},
        kit::{
            access::{Access, Bench},
            assets,
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::{posted::Posted, takes::Takes},
    },
};

/// A report has at most so many characters; the database takes as many.
const LONGEST: usize = 40_000;

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/bench/report", Access::Bench, show_newest),
        page("/bench/report/{session}", Access::Bench, show),
        change("/bench/report/{session}", Access::Bench, save).taking(Takes::TEXT),
        change("/bench/report/{session}/withdraw", Access::Bench, withdraw),
        pictures::adding(),
        change("/bench/report/{session}/pictures/remove", Access::Bench, pictures::remove),
        page("/bench/report/{session}/pictures/{picture}", Access::Bench, pictures::show),
    ]
}

#[derive(Template)]
#[template(path = "bench/report.html")]
struct ReportPage {
    frame: Frame,
    saved: Saved,
    /// Every session that was opened: its title, its page, whether it is this one.
    sessions: Vec<(String, String, bool)>,
    /// What is shown of this one; `None` when there is none.
    report: Option<ReportView>,
}

struct ReportView {
    title: String,
    path: String,
    task: Vec<String>,
    state: &'static str,
    /// Whether it is handed in, so that the text is shown and not edited.
    submitted: bool,
    when: String,
    /// Handed in after its time.
    late: bool,
    /// By when it is to be handed in; empty when no time is set.
    due: String,
    marked: bool,
    questions: Vec<QuestionView>,
    paragraphs: Vec<String>,
    pictures: Vec<pictures::Shown>,
    add: Option<pictures::Adding>,
    form: Form,
    sheets: Vec<SheetLine>,
    prints: Vec<PrintLine>,
}

/// One question with its answer.
struct QuestionView {
    words: String,
    control: Control,
    answer: Vec<String>,
    unit: String,
}

impl ReportPage {
    fn script(&self) -> String {
        assets::address("draft.js")
    }
}

struct SheetLine {
    number: i64,
    f_number: String,
    light: String,
    forecast: String,
    made: String,
    result: String,
}

struct PrintLine {
    negative: String,
    made: String,
    light: String,
    result: &'static str,
}

/// The report on the open session, or on the newest that was held.
async fn show_newest(State(state): State<AppState>, frame: Frame, bench: Bench) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let sessions = held(&mut conn, &bench).await?;
    drop(conn);
    let newest = sessions.iter().find(|session| session.state.is_open()).or(sessions.first());
    match newest.map(|session| session.id) {
        Some(id) => Ok(report_page(&state, frame, &bench, id, Refused::default()).await?.into_response()),
        None => Ok(Page::new(ReportPage { frame, saved: Saved::default(), sessions: Vec::new(), report: None })
            .into_response()),
    }
}

/// The report on one session.
async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(session): Path<LabSessionId>,
) -> Result<Response, WebError> {
    Ok(report_page(&state, frame, &bench, session, Refused::default()).await?.into_response())
}

/// The section's sessions that were opened, the newest date first. One that was over before the student joined is
/// none of theirs, unless there is a report on it all the same.
async fn held(conn: &mut SqliteConnection, bench: &Bench) -> Result<Vec<LabSession>, store::Error> {
    let joined = students::find(conn, bench.student).await?.and_then(|student| student.joined_at);
    let mut held = Vec::new();
    for session in lab_sessions::list(conn, bench.section).await? {
        let theirs = match session.state {
            SessionState::Planned => false,
            SessionState::Open { .. } => true,
            SessionState::Closed { closed_at, .. } => {
                joined.is_none_or(|joined| closed_at >= joined)
                    || reports::find(conn, session.id, bench.student).await?.is_some()
                    || reports::is_marked(conn, session.id, bench.student).await?
            }
        };
        if theirs {
            held.push(session);
        }
    }
    Ok(held)
}

async fn report_page(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    id: LabSessionId,
    refused: Refused,
) -> Result<Page<impl Template>, WebError> {
    let mut conn = state.store.read().await?;
    let sessions = held(&mut conn, bench).await?;
    let session = sessions.iter().find(|session| session.id == id).ok_or(WebError::NotFound("this session"))?;
    let zone = sites::find(&mut conn).await?.map_or(TimeZone::UTC, |site| site.zone);
    let stored = reports::find(&mut conn, id, bench.student).await?;
    let marked = reports::is_marked(&mut conn, id, bench.student).await?;
    let sheets = exposures::list_of_student(&mut conn, bench.student).await?;
    let printed = prints::list_of_student(&mut conn, bench.student).await?;
    let saved = last_saved(&mut conn, bench.actor(), state.now()).await?;
    let status = stored.as_ref().map_or(ReportState::Draft, |report| report.state);
    let body = stored.as_ref().map_or("", |report| report.body.as_str());
    let when = match (&stored, status) {
        (None, _) => "nothing saved yet".to_owned(),
        (Some(report), ReportState::Draft) => format!("saved {}", report.saved_at.as_words(&zone)),
        (Some(_), ReportState::Submitted { at }) => at.as_words(&zone),
    };
    let version = stored.as_ref().map_or(0, |report| report.version);
    let due = reports::find_due(&mut conn, id).await?;
    let questions = reports::list_questions(&mut conn, id).await?;
    let (answers, kept) = match &stored {
        Some(report) => {
            (reports::list_answers(&mut conn, report.id).await?, report_pictures::list(&mut conn, report.id).await?)
        }
        None => Default::default(),
    };
    let in_session: Vec<&Exposure> = sheets.iter().rev().filter(|exposure| exposure.session == id).collect();
    let submitted = status.is_submitted() && refused.text.is_none();
    let form = refused.text.unwrap_or_else(|| {
        let mut values = vec![("body".to_owned(), body.to_owned())];
        values.extend(answers.iter().map(|(question, answer)| (answer_field(*question), answer.clone())));
        Form::filled(&frame, version, values.iter().map(|(name, value)| (name.as_str(), value.clone())))
    });
    let view = ReportView {
        late: matches!(status, ReportState::Submitted { at } if is_late(at, due)),
        due: due.map_or_else(String::new, |due| due.as_words(&zone)),
        questions: questions.iter().map(|question| QuestionView::of(question, &form, &answers)).collect(),
        pictures: kept.iter().map(|picture| pictures::Shown::of(id, picture)).collect(),
        add: (!submitted && kept.len() < MOST_PICTURES)
            .then(|| pictures::Adding::of(&frame, refused.picture, &in_session)),
        title: session.title.clone(),
        path: format!("/bench/report/{id}"),
        task: paragraphs(&session.report_task),
        state: status.as_str(),
        submitted,
        when,
        marked,
        paragraphs: paragraphs(body),
        form,
        sheets: in_session.into_iter().map(sheet_line).collect(),
        prints: printed
            .iter()
            .rev()
            .filter(|print| print.session == id)
            .map(|print| print_line(print, &sheets))
            .collect(),
    };
    let sessions = sessions
        .iter()
        .map(|other| (other.title.clone(), format!("/bench/report/{}", other.id), other.id == id))
        .collect();
    Ok(Page::new(ReportPage { frame, saved, sessions, report: Some(view) }))
}

/// Forms of the page that were refused.
#[derive(Default)]
struct Refused {
    text: Option<Form>,
    picture: Option<Form>,
}

fn answer_field(question: QuestionId) -> String {
    format!("answer-{question}")
}

impl QuestionView {
    fn of(question: &Question, form: &Form, answers: &HashMap<QuestionId, String>) -> Self {
        let name = answer_field(question.id);
        let not_yet = not_a_number_yet(question.unit.as_deref(), form.value(&name));
        let control = match &question.unit {
            None => form.area(&name, &question.words).rows(4),
            Some(unit) if unit.is_empty() => form.number(&name, &question.words),
            Some(unit) => form.number(&name, &question.words).unit(unit),
        };
        let control = if not_yet { control.hint(NOT_A_NUMBER_YET) } else { control };
        Self {
            control: control.optional(),
            answer: answers.get(&question.id).map_or_else(Vec::new, |answer| paragraphs(answer)),
            unit: question.unit.clone().unwrap_or_default(),
            words: question.words.clone(),
        }
    }
}

/// Text as paragraphs: one a line, without the empty ones.
fn paragraphs(text: &str) -> Vec<String> {
    text.lines().map(str::trim_end).filter(|line| !line.is_empty()).map(str::to_owned).collect()
}

fn sheet_line(exposure: &Exposure) -> SheetLine {
    SheetLine {
        number: exposure.number,
        f_number: format!("f/{}", figures(exposure.f_number_milli as f64 / 1000.0, 3)),
        light: exposure.light_typed.clone(),
        forecast: seconds_text(exposure.forecast_ms as f64 / 1000.0),
        made: exactly(exposure.made_ms),
        result: result_words(exposure),
    }
}

fn print_line(print: &Print, sheets: &[Exposure]) -> PrintLine {
    let negative = sheets.iter().find(|exposure| exposure.id == print.exposure);
    PrintLine {
        negative: negative.map_or_else(|| "a sheet".to_owned(), |exposure| format!("sheet {}", exposure.number)),
        made: exactly(print.made_ms),
        light: print.light.clone(),
        result: print.verdict.map_or("not looked at yet", PrintVerdict::as_str),
    }
}

/// What the form says.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Written {
    body: String,
    answers: Vec<(QuestionId, String)>,
}

/// Reads it against the questions as they are now; what is handed in must be complete.
fn read(posted: &Posted, questions: &[Question], submitting: bool) -> Result<Written, FieldErrors> {
    let mut reader = posted.reader();
    let body = reader.lines("body", 0..=LONGEST);
    let mut answers = Vec::new();
    for question in questions {
        let name = answer_field(question.id);
        // a page loaded before the question was asked has no field for it
        if !posted.fields().iter().any(|(field, _)| *field == name) {
            continue;
        }
        let Some(answer) = reader.lines(&name, 0..=LONGEST_ANSWER) else { continue };
        if submitting && not_a_number_yet(question.unit.as_deref(), &answer) {
            let said = match question.unit.as_deref() {
                Some("s") => "must be a time, for example 12, or 1:30, or 2 min 5 s",
                _ => "must be a number, for example 0.48 or -1.5; its unit stands beside it",
            };
            reader.wrong(&name, said);
        }
        answers.push((question.id, answer));
    }
    let nothing = body.as_ref().is_some_and(String::is_empty) && answers.iter().all(|(_, answer)| answer.is_empty());
    if submitting && nothing {
        reader.wrong("body", "write something before you hand it in");
    }
    reader.finish(body.map(|body| Written { body, answers }))
}

/// What stands beside an answer that is kept as a draft, but is none that can be handed in.
const NOT_A_NUMBER_YET: &str = "this is not a number yet: it is kept as you typed it, but it cannot be handed in so";

/// Whether an answer that has to be a number is none. It may carry the unit that stands beside it; one in
/// seconds may be a time as the other fields take it.
fn not_a_number_yet(unit: Option<&str>, typed: &str) -> bool {
    let (Some(unit), typed) = (unit, typed.trim()) else { return false };
    let bare = typed.strip_suffix(unit).unwrap_or(typed);
    let is_time = unit == "s" && parse_seconds(typed).is_ok();
    !typed.is_empty() && read_any_number(bare).is_none() && !is_time
}

fn read_any_number(text: &str) -> Option<f64> {
    text.trim().replace(',', ".").replace('−', "-").parse::<f64>().ok().filter(|number| number.is_finite())
}

/// Saves the text as a draft, or hands it in. The script that saves drafts asks for JSON.
async fn save(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(session): Path<LabSessionId>,
    headers: HeaderMap,
    posted: Posted,
) -> Result<Response, WebError> {
    let by_script = headers.get(header::ACCEPT).is_some_and(|kind| kind == "application/json");
    let submitting = posted.get("act") == "submit" && !by_script;
    let (id, at, actor, version) = (state.mint(), posted.at(), bench.actor(), posted.version());
    let (student, section, form) = (bench.student, bench.section, posted.clone());
    let mut stamp = posted.stamp();
    // a draft is sent every few seconds and told apart by its version: it needs no receipt each
    stamp.receipt = !by_script;
    let written = state.store.write(stamp, move |tx| {
        Box::pin(async move {
            known(tx, session, section).await?;
            let written = read(&form, &reports::list_questions(tx, session).await?, submitting)?;
            let stored = reports::find(tx, session, student).await?;
            let before = stored.as_ref().map_or(ReportState::Draft, |report| report.state);
            if stored.as_ref().map_or(0, |report| report.version) != version {
                // the answer to the sending before was lost: what it said is stored already
                if by_script
                    && stored.as_ref().is_some_and(|report| report.body == written.body && !report.state.is_submitted())
                {
                    put_answers(tx, stored.as_ref().map_or(id, |report| report.id), &written).await?;
                    return Ok(String::new());
                }
                return Err(stale(&written.body, stored.as_ref(), session));
            }
            let next = if submitting { before.submit(at) } else { before.rewrite() };
            let report = Report {
                id: stored.as_ref().map_or(id, |report| report.id),
                session,
                student,
                body: written.body.clone(),
                state: next.map_err(said)?,
                saved_at: at,
                version,
            };
            if stored.is_none() {
                reports::insert(tx, &report).await?;
            } else {
                reports::update(tx, &report).await?;
            }
            put_answers(tx, report.id, &written).await?;
            if !by_script {
                let what = if submitting { "report handed in" } else { "report saved as a draft" };
                change_log::insert(tx, at, actor, what, "report", report.id, "").await?;
            }
            Ok(format!("/bench/report/{session}"))
        })
    });
    let written = written.await;
    if by_script {
        return answer_script(&state, session, &bench, &posted, written).await;
    }
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => refuse(&state, frame, &bench, session, &posted, errors).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn put_answers(
    tx: &mut SqliteConnection,
    report: crate::domain::ids::ReportId,
    written: &Written,
) -> Result<(), store::Error> {
    for (question, answer) in &written.answers {
        reports::put_answer(tx, report, *question, answer).await?;
    }
    Ok(())
}

async fn answer_script(
    state: &AppState,
    session: LabSessionId,
    bench: &Bench,
    posted: &Posted,
    written: Result<String, WriteError>,
) -> Result<Response, WebError> {
    let (status, said) = match written {
        Ok(_) => {
            let mut conn = state.store.read().await?;
            let stored = reports::find(&mut conn, session, bench.student).await?;
            let zone = sites::find(&mut conn).await?.map_or(TimeZone::UTC, |site| site.zone);
            let at = stored.as_ref().map_or_else(|| state.now(), |report| report.saved_at);
            let version = stored.map_or(0, |report| report.version);
            let questions = reports::list_questions(&mut conn, session).await?;
            let not_yet: Vec<String> = questions
                .iter()
                .map(|question| (answer_field(question.id), question))
                .filter(|(name, question)| not_a_number_yet(question.unit.as_deref(), posted.get(name)))
                .map(|(name, _)| name)
                .collect();
            let said = serde_json::json!({
                "version": version, "at": at.as_time(&zone), "not_yet": not_yet, "not_yet_said": NOT_A_NUMBER_YET,
            });
            (StatusCode::OK, said)
        }
        Err(WriteError::Refused(errors)) => {
            let said: Vec<&str> = errors.iter().map(|(_, message)| message).collect();
            (StatusCode::UNPROCESSABLE_ENTITY, serde_json::json!({ "said": said.join("; ") }))
        }
        Err(WriteError::Stale(_)) => {
            (StatusCode::CONFLICT, serde_json::json!({ "said": "it was changed in another window or handed in" }))
        }
        Err(error) => return Err(WebError::from_write(error, posted)),
    };
    let kind = (header::CONTENT_TYPE, "application/json; charset=utf-8");
    Ok((status, [kind], said.to_string()).into_response())
}

/// Takes a report back to a draft, as long as nobody has given marks.
async fn withdraw(
    State(state): State<AppState>,
    bench: Bench,
    Path(session): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor, version) = (posted.at(), bench.actor(), posted.version());
    let (student, section) = (bench.student, bench.section);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            known(tx, session, section).await?;
            let stored = reports::find(tx, session, student).await?.ok_or(WriteError::Missing("this report"))?;
            let marked = reports::is_marked(tx, session, student).await?;
            if stored.version != version {
                return Err(stale(&stored.body, Some(&stored), session));
            }
            let next = stored.state.withdraw(marked).map_err(said)?;
            let report = Report { state: next, saved_at: at, ..stored };
            reports::update(tx, &report).await?;
            change_log::insert(tx, at, actor, "report withdrawn", "report", report.id, "").await?;
            Ok(format!("/bench/report/{session}"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// The session must be one of the student's section that was opened.
async fn known(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    section: crate::domain::ids::SectionId,
) -> Result<(), WriteError> {
    let found = lab_sessions::find(tx, session).await?;
    match found.filter(|found| found.section == section && found.state != SessionState::Planned) {
        Some(_) => Ok(()),
        None => Err(WriteError::Missing("this session")),
    }
}

fn said(step: WrongReportStep) -> WriteError {
    FieldErrors::whole(step.to_string()).into()
}

fn stale(sent: &str, stored: Option<&Report>, session: LabSessionId) -> WriteError {
    let state = stored.map_or("nothing saved", |report| report.state.as_str());
    WriteError::Stale(Box::new(Stale {
        what: "Your report".to_owned(),
        path: format!("/bench/report/{session}").into(),
        fields: vec![
            ("Text".to_owned(), sent.to_owned(), stored.map_or_else(String::new, |report| report.body.clone())),
            ("State".to_owned(), state.to_owned(), state.to_owned()),
        ],
    }))
}

async fn refuse(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    session: LabSessionId,
    posted: &Posted,
    errors: FieldErrors,
) -> Result<Response, WebError> {
    let refused = Refused { text: Some(Form::refused(posted, errors)), picture: None };
    Ok(report_page(state, frame, bench, session, refused).await?.unprocessable().into_response())
}

#[cfg(test)]
mod tests {
    use super::not_a_number_yet;

    #[test]
    fn an_answer_may_carry_its_unit_and_a_time_be_given_as_everywhere() {
        for time in ["8", "8,5", "8 s", "8,5 s", "1:05", "2 min 5 s", ""] {
            assert!(!not_a_number_yet(Some("s"), time), "{time}");
        }
        for (unit, number) in [("mm", "0.48 mm"), ("", "256"), ("stops", "-1.5"), ("°", "57.3°")] {
            assert!(!not_a_number_yet(Some(unit), number), "{number}");
        }
        for (unit, words) in [("s", "a while"), ("mm", "0.48 in"), ("mm", "1:05"), ("", "f/256")] {
            assert!(not_a_number_yet(Some(unit), words), "{words}");
        }
        assert!(!not_a_number_yet(None, "any words"));
    }
}
