//! `/bench/report`: a student's text on a session, with their own figures beside it.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    calc::working::{figures, seconds_text},
    domain::{
        exposure::Exposure,
        field_errors::FieldErrors,
        ids::LabSessionId,
        lab_session::{LabSession, SessionState},
        print::{Print, PrintVerdict},
        report::{Report, ReportState, WrongReportStep},
        typed_seconds::exactly,
    },
    store::{self, Stale, WriteError, change_log, exposures, lab_sessions, prints, reports, sites},
    web::{
        access::{Access, Bench},
        bench::{at_bench::last_saved, exposures::result_words},
        error::WebError,
        form::Form,
        frame::Frame,
        page::{Page, see_other},
        posted::Posted,
        routes::{Route, change, page},
        state::AppState,
    },
};

/// A report has at most so many characters; the database takes as many.
const LONGEST: usize = 40_000;

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/bench/report", Access::Bench, show_newest),
        page("/bench/report/{session}", Access::Bench, show),
        change("/bench/report/{session}", Access::Bench, save),
        change("/bench/report/{session}/withdraw", Access::Bench, withdraw),
    ]
}

#[derive(Template)]
#[template(path = "bench/report.html")]
struct ReportPage {
    frame: Frame,
    saved: String,
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
    marked: bool,
    paragraphs: Vec<String>,
    form: Form,
    sheets: Vec<SheetLine>,
    prints: Vec<PrintLine>,
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
        Some(id) => Ok(report_page(&state, frame, &bench, id, None).await?.into_response()),
        None => {
            Ok(Page::new(ReportPage { frame, saved: String::new(), sessions: Vec::new(), report: None })
                .into_response())
        }
    }
}

/// The report on one session.
async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(session): Path<LabSessionId>,
) -> Result<Response, WebError> {
    Ok(report_page(&state, frame, &bench, session, None).await?.into_response())
}

/// The section's sessions that were opened, the newest date first.
async fn held(conn: &mut SqliteConnection, bench: &Bench) -> Result<Vec<LabSession>, store::Error> {
    let all = lab_sessions::list(conn, bench.section).await?;
    Ok(all.into_iter().filter(|session| session.state != SessionState::Planned).collect())
}

async fn report_page(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    id: LabSessionId,
    refused: Option<Form>,
) -> Result<Page<impl Template>, WebError> {
    let mut conn = state.store.read().await?;
    let sessions = held(&mut conn, bench).await?;
    let session = sessions.iter().find(|session| session.id == id).ok_or(WebError::NotFound("this session"))?;
    let zone = sites::find(&mut conn).await?.map_or(TimeZone::UTC, |site| site.zone);
    let stored = reports::find(&mut conn, id, bench.student).await?;
    let marked = reports::is_marked(&mut conn, id, bench.student).await?;
    let sheets = exposures::list_of_student(&mut conn, bench.student).await?;
    let printed = prints::list_of_student(&mut conn, bench.student).await?;
    let saved = last_saved(&mut conn, bench.actor()).await?;
    let status = stored.as_ref().map_or(ReportState::Draft, |report| report.state);
    let body = stored.as_ref().map_or("", |report| report.body.as_str());
    let when = match (&stored, status) {
        (None, _) => "nothing saved yet".to_owned(),
        (Some(report), ReportState::Draft) => format!("saved {}", report.saved_at.as_words(&zone)),
        (Some(_), ReportState::Submitted { at }) => at.as_words(&zone),
    };
    let version = stored.as_ref().map_or(0, |report| report.version);
    let view = ReportView {
        title: session.title.clone(),
        path: format!("/bench/report/{id}"),
        task: paragraphs(&session.report_task),
        state: status.as_str(),
        submitted: status.is_submitted() && refused.is_none(),
        when,
        marked,
        paragraphs: paragraphs(body),
        form: refused.unwrap_or_else(|| Form::filled(&frame, version, [("body", body.to_owned())])),
        sheets: sheets.iter().rev().filter(|exposure| exposure.session == id).map(sheet_line).collect(),
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

/// Saves the text as a draft, or hands it in.
async fn save(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Path(session): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let submitting = posted.get("act") == "submit";
    let mut reader = posted.reader();
    let body = reader.lines("body", 0..=LONGEST);
    if submitting && body.as_ref().is_some_and(String::is_empty) {
        reader.wrong("body", "write something before you hand it in");
    }
    let body = match reader.finish(body) {
        Ok(body) => body,
        Err(errors) => return refuse(&state, frame, &bench, session, &posted, errors).await,
    };
    let (id, at, actor, version) = (state.mint(), posted.at(), bench.actor(), posted.version());
    let (student, section) = (bench.student, bench.section);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            known(tx, session, section).await?;
            let stored = reports::find(tx, session, student).await?;
            let before = stored.as_ref().map_or(ReportState::Draft, |report| report.state);
            if stored.as_ref().map_or(0, |report| report.version) != version {
                return Err(stale(&body, stored.as_ref(), session));
            }
            let next = if submitting { before.submit(at) } else { before.rewrite() };
            let report = Report {
                id: stored.as_ref().map_or(id, |report| report.id),
                session,
                student,
                body,
                state: next.map_err(said)?,
                saved_at: at,
                version,
            };
            if stored.is_none() {
                reports::insert(tx, &report).await?;
            } else {
                reports::update(tx, &report).await?;
            }
            let what = if submitting { "report handed in" } else { "report saved as a draft" };
            change_log::insert(tx, at, actor, what, "report", report.id, "").await?;
            Ok(format!("/bench/report/{session}"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => refuse(&state, frame, &bench, session, &posted, errors).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
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
        path: format!("/bench/report/{session}"),
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
    let form = Form::refused(posted, errors);
    Ok(report_page(state, frame, bench, session, Some(form)).await?.unprocessable().into_response())
}
