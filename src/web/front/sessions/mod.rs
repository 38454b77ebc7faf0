//! `/front/sessions/{id}`: a lab session's page: what to print before, where to look during,
//! what to do after; opened, closed, opened again.

mod plan;

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::{LabSession, SessionState},
        field_errors::FieldErrors,
        ids::{LabSessionId, SectionId},
        measure::decimal,
    },
    store::{
        Error, WriteError,
        baths::tray_lines,
        evening::{announcements, help_calls, lab_sessions, sheet_ways},
        marking::rubrics,
        people::{change_log, sections, students},
        site::sites,
        stock::papers,
    },
    web::{
        kit::{
            access::{Access, Staff},
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::{
    first_steps::{self, FirstSteps},
    home::people,
};

/// The routes of this page. An assistant may open the lab; planning is the instructor's.
pub fn routes() -> Vec<Route> {
    let mut routes = vec![
        page("/front/sessions/{id}", Access::Staff, show),
        change("/front/sessions/{id}/open", Access::Staff, open),
        change("/front/sessions/{id}/close", Access::Staff, close),
    ];
    routes.extend(plan::routes());
    routes
}

#[derive(Template)]
#[template(path = "front/session.html")]
struct SessionPage {
    frame: Frame,
    first_steps: FirstSteps,
    form: Form,
    id: LabSessionId,
    title: String,
    held_on: String,
    section: SectionId,
    section_name: String,
    door_code: String,
    people: String,
    nobody: bool,
    state: &'static str,
    since: String,
    /// Name and value of what was planned.
    facts: Vec<(&'static str, String)>,
    report_task: String,
    /// The session that is open instead, when opening this one was refused.
    in_the_way: Option<(LabSessionId, String)>,
}

async fn show(
    State(state): State<AppState>,
    frame: Frame,
    _staff: Staff,
    Path(id): Path<LabSessionId>,
) -> Result<Response, WebError> {
    let form = Form::empty(&frame);
    show_with(&state, frame, id, form).await
}

async fn show_with(state: &AppState, frame: Frame, id: LabSessionId, form: Form) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = lab_sessions::find(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let section = sections::find(&mut conn, session.section).await?.ok_or(WebError::NotFound("this section"))?;
    let zone = sites::find(&mut conn).await?.map_or(jiff::tz::TimeZone::UTC, |site| site.zone);
    let roster = students::list(&mut conn, section.id).await?;
    let first_steps = first_steps::find(&mut conn).await?;
    let refused = form.is_refused();
    let in_the_way = match lab_sessions::find_open(&mut conn, section.id).await? {
        Some(other) if refused && other.id != id => Some((other.id, other.title)),
        _ => None,
    };
    let page = Page::new(SessionPage {
        first_steps,
        id,
        title: session.title.clone(),
        held_on: session.held_on.strftime("%A, %-d %B %Y").to_string(),
        section: section.id,
        section_name: section.name,
        door_code: section.door_code,
        people: people(roster.len(), roster.iter().filter(|student| student.joined_at.is_some()).count()),
        nobody: roster.is_empty() && !section.walk_ins,
        state: session.state.as_str(),
        since: match session.state {
            SessionState::Planned => String::new(),
            SessionState::Open { opened_at } => format!("since {}", opened_at.as_words(&zone)),
            SessionState::Closed { opened_at, closed_at } => {
                format!("from {} to {}", opened_at.as_words(&zone), closed_at.as_words(&zone))
            }
        },
        facts: facts(&mut conn, &session).await?,
        report_task: session.report_task,
        in_the_way,
        form,
        frame,
    });
    Ok(if refused { page.unprocessable().into_response() } else { page.into_response() })
}

/// What was planned, for people: also the two versions of a stale edit.
async fn facts(conn: &mut SqliteConnection, session: &LabSession) -> Result<Vec<(&'static str, String)>, Error> {
    let paper = papers::find(conn, session.paper).await?.map_or_else(
        || "gone".to_owned(),
        |paper| {
            let index = decimal::written(paper.exposure_index_milli, 3);
            match paper.reciprocity_milli {
                1_000 => format!("{}, EI {index}", paper.name),
                milli => format!("{}, EI {index}, reciprocity exponent {}", paper.name, decimal::written(milli, 3)),
            }
        },
    );
    let trays = match session.tray_line {
        None => "none".to_owned(),
        Some(id) => tray_lines::find(conn, id).await?.map_or_else(|| "gone".to_owned(), |line| line.name),
    };
    let rubric = match session.rubric {
        None => "none".to_owned(),
        Some(id) => rubrics::find(conn, id).await?.map_or_else(|| "gone".to_owned(), |rubric| rubric.name),
    };
    Ok(vec![
        (
            "Hole formula",
            format!(
                "d = C √(λ f′), C = {}, λ = {} nm",
                decimal::written(session.hole_constant_milli, 3),
                session.wavelength_nm
            ),
        ),
        ("Paper or film", paper),
        ("Tray line", trays),
        ("Marked by", rubric),
    ])
}

/// Opens a session: planned, or closed and to be gone on with.
async fn open(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let session = lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("this session"))?;
                if let Some(other) = lab_sessions::find_open(tx, session.section).await?
                    && other.id != id
                {
                    let words = format!(
                        "“{}” is open in this section. Students work in one session at a time: close it first, then open this one",
                        other.title
                    );
                    return Err(FieldErrors::whole(words).into());
                }
                let next = session.state.open(at).map_err(|wrong| FieldErrors::whole(wrong.to_string()))?;
                lab_sessions::update_state(tx, id, next).await?;
                change_log::insert(tx, at, actor, "session opened", "lab_session", id, &session.title).await?;
                Ok(format!("/front/sessions/{id}"))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => show_with(&state, frame, id, Form::refused(&posted, errors)).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Closes an open session.
async fn close(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let session = lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("this session"))?;
                let next = session.state.close(at).map_err(|wrong| FieldErrors::whole(wrong.to_string()))?;
                lab_sessions::update_state(tx, id, next).await?;
                // nobody is on the way any more, calls, or listens
                sheet_ways::end_all(tx, id, at).await?;
                help_calls::end_all(tx, id, at).await?;
                announcements::end(tx, id, at).await?;
                change_log::insert(tx, at, actor, "session closed", "lab_session", id, &session.title).await?;
                Ok(format!("/front/sessions/{id}"))
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => show_with(&state, frame, id, Form::refused(&posted, errors)).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
