//! The bare floor, to be projected where everybody sees it: cameras by their numbers, and no names.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    domain::{evening::lab_session::LabSession, ids::LabSessionId, instant::Instant},
    store::evening::announcements,
    web::kit::{
        access::Access,
        error::WebError,
        frame::Frame,
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::board::{Board, Line};
use super::{
    find_session,
    room::{self, Room},
    zone,
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/sessions/{id}/bare-floor", Access::Staff, show),
        page("/front/sessions/{id}/bare-floor/parts/bare", Access::Staff, show_part),
    ]
}

/// The page.
#[derive(Template)]
#[template(path = "front/bare_floor.html")]
struct BareFloor {
    frame: Frame,
    session: LabSession,
    on_it: OnBareFloor,
}

/// What stands on it; asked for anew when something changed.
#[derive(Template)]
#[template(path = "front/bare_floor_part.html")]
struct OnBareFloor {
    told: String,
    at: String,
    room: Room,
    lines: Vec<Line>,
}

impl askama::filters::HtmlSafe for OnBareFloor {}

async fn load(
    conn: &mut SqliteConnection,
    frame: &Frame,
    session: &LabSession,
    now: Instant,
) -> Result<OnBareFloor, WebError> {
    let loaded = crate::lab::evening::board::load(conn, session, now).await?;
    let (mut board, _) = Board::of(loaded, now);
    // who has no camera yet has no number to stand under
    board.lines.retain(|line| line.outline.is_some());
    Ok(OnBareFloor {
        told: announcements::find(conn, session.id).await?.map(|said| said.words).unwrap_or_default(),
        at: now.as_time(&zone(conn).await?),
        room: room::load(conn, frame, session, now).await?,
        lines: board.lines,
    })
}

async fn show(State(state): State<AppState>, frame: Frame, Path(id): Path<LabSessionId>) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = find_session(&mut conn, id).await?;
    let on_it = load(&mut conn, &frame, &session, state.now()).await?;
    Ok(Page::new(BareFloor { frame, session, on_it }).into_response())
}

async fn show_part(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<LabSessionId>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = find_session(&mut conn, id).await?;
    Ok(Page::new(load(&mut conn, &frame, &session, state.now()).await?).into_response())
}
