//! Planning a session: a new one, or an edit.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::civil::Date;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::{LabSession, SessionState},
        field_errors::FieldErrors,
        ids::{LabSessionId, PaperId, SectionId},
        measure::decimal,
    },
    store::{
        Error, Stale, WriteError,
        baths::tray_lines,
        evening::lab_sessions,
        marking::rubrics,
        people::{change_log, sections},
        site::sites,
        stock::papers,
    },
    web::{
        kit::{
            access::Access,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::{
            posted::{Posted, Reader},
            takes::Takes,
        },
    },
};

use super::{
    super::first_steps::{self, FirstSteps},
    facts,
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/sections/{id}/sessions/new", Access::Instructor, new),
        change("/front/sections/{id}/sessions", Access::Instructor, create).taking(Takes::PILE),
        page("/front/sessions/{id}/plan", Access::Instructor, edit),
        change("/front/sessions/{id}/plan", Access::Instructor, update).taking(Takes::PILE),
    ]
}

#[derive(Template)]
#[template(path = "front/session_plan.html")]
struct SessionPlanPage {
    frame: Frame,
    first_steps: FirstSteps,
    form: Form,
    section: SectionId,
    section_name: String,
    /// The session being edited; `None` for a new one.
    id: Option<LabSessionId>,
    state: &'static str,
    lights: Vec<(String, String)>,
    papers: Vec<(String, String)>,
    tray_lines: Vec<(String, String)>,
    rubrics: Vec<(String, String)>,
}

/// The light of the hole formula, as the form offers it: word sent, wavelength in nm, words.
const LIGHTS: [(&str, i64, &str); 2] = [
    ("eye", 550, "550 nm, green: what the eye sees best, usual in write-ups"),
    ("paper", 460, "460 nm, blue: the paper’s own light"),
];

fn lights() -> Vec<(String, String)> {
    let offered = LIGHTS.map(|(word, _, words)| (word.to_owned(), words.to_owned()));
    offered.into_iter().chain([("other".to_owned(), "another wavelength".to_owned())]).collect()
}

/// The word under which a wavelength is offered.
fn light_of(wavelength_nm: i64) -> String {
    LIGHTS.iter().find(|(_, nm, _)| *nm == wavelength_nm).map_or("other", |(word, _, _)| word).to_owned()
}

/// The wavelength chosen, or typed where another one was chosen or nothing (a script's post).
fn wavelength(r: &mut Reader<'_>) -> Option<i64> {
    match r.raw("light") {
        "" | "other" => r.whole("wavelength", 300..=1_100),
        chosen => {
            let nm = LIGHTS.iter().find(|(word, _, _)| *word == chosen).map(|(_, nm, _)| *nm);
            if nm.is_none() {
                r.wrong("light", "choose one of those offered");
            }
            nm
        }
    }
}

/// What the form offers to choose from: the shelf, and what the session has although put away.
struct Offered {
    papers: Vec<(String, String)>,
    tray_lines: Vec<(String, String)>,
    rubrics: Vec<(String, String)>,
}

async fn offered(conn: &mut SqliteConnection, session: Option<&LabSession>) -> Result<Offered, Error> {
    let mut shelf = papers::list(conn).await?;
    let mut lines = tray_lines::list(conn).await?;
    if let Some(session) = session {
        if shelf.iter().all(|paper| paper.id != session.paper) {
            shelf.extend(papers::find(conn, session.paper).await?);
        }
        if let Some(line) = session.tray_line
            && lines.iter().all(|offered| offered.id != line)
        {
            lines.extend(tray_lines::find(conn, line).await?);
        }
    }
    let marked = match sites::find(conn).await? {
        Some(site) => rubrics::list(conn, site.id).await?,
        None => Vec::new(),
    };
    let none = |words: &str| vec![(String::new(), words.to_owned())];
    let mut offered = Offered {
        papers: Vec::new(),
        tray_lines: none("none: film goes to a laboratory"),
        rubrics: none("not marked, or decide later"),
    };
    let index = |milli| decimal::written(milli, 3);
    offered.papers.extend(shelf.into_iter().map(|paper| {
        (
            paper.id.to_string(),
            format!("{} ({}, EI {})", paper.name, paper.kind.as_str(), index(paper.exposure_index_milli)),
        )
    }));
    offered.tray_lines.extend(lines.into_iter().map(|line| (line.id.to_string(), line.name)));
    offered.rubrics.extend(marked.into_iter().map(|rubric| (rubric.id.to_string(), rubric.name)));
    Ok(offered)
}

/// The form of a session of this section; `session` is the one being edited.
async fn plan_page(
    conn: &mut SqliteConnection,
    frame: Frame,
    form: Form,
    section: SectionId,
    session: Option<&LabSession>,
) -> Result<Page<SessionPlanPage>, WebError> {
    let section_name = sections::find(conn, section).await?.ok_or(WebError::NotFound("this section"))?.name;
    let Offered { papers, tray_lines, rubrics } = offered(conn, session).await?;
    Ok(Page::new(SessionPlanPage {
        frame,
        first_steps: if session.is_none() { first_steps::find(conn).await? } else { FirstSteps::default() },
        form,
        section,
        section_name,
        id: session.map(|session| session.id),
        state: session.map_or("planned", |session| session.state.as_str()),
        lights: lights(),
        papers,
        tray_lines,
        rubrics,
    }))
}

async fn new(
    State(state): State<AppState>,
    frame: Frame,
    Path(section): Path<SectionId>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let zone = sites::find(&mut conn).await?.map_or(jiff::tz::TimeZone::UTC, |site| site.zone);
    // what the last session used is the best guess for the next
    let last = lab_sessions::list(&mut conn, section).await?.into_iter().next();
    let tray_line = match &last {
        Some(last) => last.tray_line,
        None => tray_lines::list(&mut conn).await?.first().map(|line| line.id),
    };
    let constant = last.as_ref().map_or(1_900, |last| last.hole_constant_milli);
    let wavelength = last.as_ref().map_or(550, |last| last.wavelength_nm);
    let form = Form::filled(
        &frame,
        0,
        [
            ("held_on", state.now().local(&zone).date().to_string()),
            ("hole_constant", decimal::written(constant, 3)),
            ("light", light_of(wavelength)),
            ("wavelength", wavelength.to_string()),
            ("paper", last.as_ref().map_or(String::new(), |last| last.paper.to_string())),
            ("tray_line", tray_line.map_or(String::new(), |line| line.to_string())),
            ("rubric", last.as_ref().and_then(|last| last.rubric).map_or(String::new(), |rubric| rubric.to_string())),
        ],
    );
    Ok(plan_page(&mut conn, frame, form, section, None).await?.into_response())
}

async fn edit(State(state): State<AppState>, frame: Frame, Path(id): Path<LabSessionId>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let form = Form::filled(
        &frame,
        session.version,
        [
            ("title", session.title.clone()),
            ("held_on", session.held_on.to_string()),
            ("hole_constant", decimal::written(session.hole_constant_milli, 3)),
            ("light", light_of(session.wavelength_nm)),
            ("wavelength", session.wavelength_nm.to_string()),
            ("paper", session.paper.to_string()),
            ("tray_line", session.tray_line.map_or(String::new(), |line| line.to_string())),
            ("rubric", session.rubric.map_or(String::new(), |rubric| rubric.to_string())),
            ("report_task", session.report_task.clone()),
        ],
    );
    Ok(plan_page(&mut conn, frame, form, session.section, Some(&session)).await?.into_response())
}

/// A session is planned for one of the days round today: further off the year is wrong, as a rule (our own
/// judgement).
const USUAL_DAYS: std::ops::RangeInclusive<i64> = -60..=400;

/// Reads the plan; `before` is the day it had. Another one far from today is asked back: a year that was
/// mistyped would stand on everything that is printed.
fn read(
    posted: &Posted,
    (id, section): (LabSessionId, SectionId),
    (today, before): (Date, Option<Date>),
) -> Result<LabSession, FieldErrors> {
    let mut r = posted.reader();
    let title = r.text("title", 1..=120);
    let held_on = r.date("held_on");
    if let Some(day) = held_on.filter(|day| before != Some(*day)) {
        let days = days_after(day, today);
        if !USUAL_DAYS.contains(&days) {
            let far = if days < 0 { format!("{} days ago", -days) } else { format!("in {days} days") };
            r.ask_back("held_on", format!("{} is {far}: is the year right?", day.strftime("%-d %B %Y")));
        }
    }
    let hole_constant = r.decimal("hole_constant", 3, 500..=3_000);
    let wavelength = wavelength(&mut r);
    let paper: Option<PaperId> = r.id("paper");
    let tray_line = if r.raw("tray_line").is_empty() { Some(None) } else { r.id("tray_line").map(Some) };
    let rubric = if r.raw("rubric").is_empty() { Some(None) } else { r.id("rubric").map(Some) };
    let report_task = r.lines("report_task", 0..=4_000);
    let session = (|| {
        Some(LabSession {
            id,
            section,
            title: title?,
            held_on: held_on?,
            hole_constant_milli: hole_constant?,
            wavelength_nm: wavelength?,
            paper: paper?,
            tray_line: tray_line?,
            rubric: rubric?,
            report_task: report_task?,
            state: SessionState::Planned,
            version: posted.version(),
        })
    })();
    r.finish(session)
}

/// The day at the site.
async fn today(state: &AppState) -> Result<Date, WebError> {
    let site = sites::find(&mut *state.store.read().await?).await?;
    Ok(state.now().local(&site.map_or(jiff::tz::TimeZone::UTC, |site| site.zone)).date())
}

/// How many days a day lies after another; below zero before it.
fn days_after(day: Date, other: Date) -> i64 {
    day.since((jiff::Unit::Day, other)).map_or(0, |span| i64::from(span.get_days()))
}

/// Refuses what is no longer there, beside its field.
async fn refuse_missing(tx: &mut SqliteConnection, session: &LabSession) -> Result<(), WriteError> {
    let mut errors = FieldErrors::none();
    if papers::find(tx, session.paper).await?.is_none() {
        errors.add("paper", "choose one of those offered");
    }
    if let Some(line) = session.tray_line
        && tray_lines::find(tx, line).await?.is_none()
    {
        errors.add("tray_line", "choose one of those offered");
    }
    if let Some(rubric) = session.rubric
        && rubrics::find(tx, rubric).await?.is_none()
    {
        errors.add("rubric", "this rubric was discarded: choose another");
    }
    if errors.is_empty() { Ok(()) } else { Err(errors.into()) }
}

async fn create(
    State(state): State<AppState>,
    frame: Frame,
    Path(section): Path<SectionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let today = today(&state).await?;
    let session = match read(&posted, (state.mint(), section), (today, None)) {
        Ok(session) => session,
        Err(errors) => return plan_again(&state, frame, &posted, errors, section, None).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                sections::find(tx, section).await?.ok_or(WriteError::Missing("this section"))?;
                refuse_missing(tx, &session).await?;
                lab_sessions::insert(tx, &session, at).await?;
                change_log::insert(tx, at, actor, "session planned", "lab_session", session.id, &session.title).await?;
                Ok(format!("/front/sessions/{}", session.id))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => plan_again(&state, frame, &posted, errors, section, None).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn update(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let old = lab_sessions::find(&mut *state.store.read().await?, id).await?;
    let old = old.ok_or(WebError::NotFound("this session"))?;
    let section = old.section;
    let today = today(&state).await?;
    let session = match read(&posted, (id, section), (today, Some(old.held_on))) {
        Ok(session) => session,
        Err(errors) => return plan_again(&state, frame, &posted, errors, section, Some(&old)).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("this session"))?;
                let path = format!("/front/sessions/{id}/plan");
                if stored.version != session.version {
                    let (sent, stored) = (described(tx, &session).await?, described(tx, &stored).await?);
                    return Err(WriteError::Stale(Stale::between("this session’s plan", path, sent, stored)));
                }
                refuse_missing(tx, &session).await?;
                lab_sessions::update_plan(tx, &session).await?;
                change_log::insert(tx, at, actor, "session plan edited", "lab_session", id, &session.title).await?;
                Ok(format!("/front/sessions/{id}"))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => plan_again(&state, frame, &posted, errors, section, Some(&old)).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn plan_again(
    state: &AppState,
    frame: Frame,
    posted: &Posted,
    errors: FieldErrors,
    section: SectionId,
    session: Option<&LabSession>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let page = plan_page(&mut conn, frame, Form::refused(posted, errors), section, session).await?;
    Ok(page.unprocessable().into_response())
}

async fn described(conn: &mut SqliteConnection, session: &LabSession) -> Result<Vec<(&'static str, String)>, Error> {
    let mut fields = vec![("Title", session.title.clone()), ("Date", session.held_on.to_string())];
    fields.extend(facts(conn, session).await?);
    fields.push(("Report task", session.report_task.clone()));
    Ok(fields)
}
