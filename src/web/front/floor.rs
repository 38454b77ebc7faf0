//! `/front/sessions/{id}/floor`: the board of a session in progress, one line for each camera, and
//! from each line the way to put right what went wrong.

mod board;
mod put_right;
mod sheet;

use askama::Template;
use axum::{
    extract::{Path, Query, State},
    http::{HeaderName, HeaderValue},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        ids::{Id, LabSessionId},
        lab_session::LabSession,
    },
    store::{change_log, lab_sessions, sites},
    web::{
        access::{Access, BY_ITSELF},
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, change, page},
        state::AppState,
    },
};

use self::board::{Board, Waiting};

/// How often the board looks again by itself.
const LOOK_AGAIN_SECONDS: u32 = 30;

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/sessions/{id}/floor", Access::Staff, show),
        page("/front/sessions/{id}/floor/students/{student}", Access::Staff, put_right::show),
        change("/front/sessions/{id}/floor/students/{student}/new-key", Access::Staff, put_right::new_key),
        change("/front/sessions/{id}/floor/students/{student}/free", Access::Staff, put_right::free),
        change("/front/sessions/{id}/floor/students/{student}/camera", Access::Staff, put_right::change_camera),
        page("/front/sessions/{id}/floor/sheets/{exposure}", Access::Staff, sheet::show),
        change("/front/sessions/{id}/floor/sheets/{exposure}", Access::Staff, sheet::change_place),
    ]
}

/// The floor.
#[derive(Template)]
#[template(path = "front/floor.html")]
struct Floor {
    frame: Frame,
    session: LabSession,
    board: Board,
    not_joined: Vec<Waiting>,
    at: String,
    /// Whether it looks again by itself.
    looking: bool,
    seconds: u32,
}

/// What the address may carry.
#[derive(Debug, Deserialize)]
struct Asked {
    /// Present: the board stays as it is.
    still: Option<String>,
}

/// Shows the board. While the session is open it looks again by itself, unless told to hold still.
async fn show(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = find_session(&mut conn, id).await?;
    let zone = zone(&mut conn).await?;
    let (board, not_joined) = board::load(&mut conn, &session, state.now()).await?;
    let looking = session.state.is_open() && asked.still.is_none();
    let at = state.now().as_time(&zone);
    let page = Page::new(Floor { frame, session, board, not_joined, at, looking, seconds: LOOK_AGAIN_SECONDS });
    let mut response = page.into_response();
    if looking {
        // a header, not an element: it can be held still at one click, and it says that nobody asked
        let again = format!("{LOOK_AGAIN_SECONDS};url=/front/sessions/{id}/floor?{BY_ITSELF}");
        if let Ok(value) = HeaderValue::from_str(&again) {
            response.headers_mut().insert(HeaderName::from_static("refresh"), value);
        }
    }
    Ok(response)
}

async fn find_session(conn: &mut SqliteConnection, id: LabSessionId) -> Result<LabSession, WebError> {
    lab_sessions::find(conn, id).await?.ok_or(WebError::NotFound("this session"))
}

/// What was changed about a record, oldest first, one line each.
async fn log_of<T: Id>(conn: &mut SqliteConnection, id: T) -> Result<Vec<String>, WebError> {
    let zone = zone(conn).await?;
    let changes = change_log::list_of(conn, id).await?;
    let detail = |detail: String| if detail.is_empty() { detail } else { format!(" ({detail})") };
    let line =
        |change: change_log::Change| format!("{}: {}{}", change.at.as_words(&zone), change.what, detail(change.detail));
    Ok(changes.into_iter().map(line).collect())
}

async fn zone(conn: &mut SqliteConnection) -> Result<TimeZone, WebError> {
    Ok(sites::find(conn).await?.map_or(TimeZone::UTC, |site| site.zone))
}
