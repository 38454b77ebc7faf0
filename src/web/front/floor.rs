//! `/front/sessions/{id}/floor`: the page of a session in progress, one line for each camera, and
//! from each line the way to put right what went wrong.

mod bare;
mod board;
mod keeping;
mod put_right;
mod room;
mod sheet;

use askama::Template;
use axum::{
    extract::{Path, Query, State},
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;
use jiff::tz::TimeZone;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        ids::{Id, LabSessionId},
        instant::Instant,
    },
    store::{
        self,
        evening::{announcements, lab_sessions},
        people::change_log,
        site::sites,
    },
    web::kit::{
        access::{Access, Staff},
        cookies,
        error::WebError,
        form::Form,
        frame::Frame,
        live::{self, Part},
        page::Page,
        routes::{Route, change, page},
        state::AppState,
    },
};

use self::board::{Board, Waiting};
use self::room::{Baths, Room};

/// How often the board looks again by itself where no script can be told of changes.
const LOOK_AGAIN_SECONDS: u32 = 30;

/// The parts of the floor, and the tables each is made from.
const PARTS: &[Part] = &[
    ("lines", &["camera", "change_log", "exposure", "help_call", "hole", "print", "report", "sheet_way", "student"]),
    ("room", &["sheet_way", "tray_line"]),
    ("baths", &["batch", "book_entry", "sheet_run", "tray_slot"]),
    ("told", &["announcement"]),
];

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    let mut routes = vec![
        page("/front/sessions/{id}/floor", Access::Staff, show),
        page("/front/sessions/{id}/floor/changes", Access::Staff, changes),
        page("/front/sessions/{id}/floor/parts/{part}", Access::Staff, show_part),
        page("/front/sessions/{id}/floor/students/{student}", Access::Staff, put_right::show),
        change("/front/sessions/{id}/floor/students/{student}/new-key", Access::Staff, put_right::new_key),
        change("/front/sessions/{id}/floor/students/{student}/free", Access::Staff, put_right::free),
        change("/front/sessions/{id}/floor/students/{student}/camera", Access::Staff, put_right::change_camera),
        page("/front/sessions/{id}/floor/sheets/{exposure}", Access::Staff, sheet::show),
        change("/front/sessions/{id}/floor/sheets/{exposure}", Access::Staff, sheet::change_place),
    ];
    routes.extend(keeping::routes());
    routes.extend(bare::routes());
    routes
}

/// The floor.
#[derive(Template)]
#[template(path = "front/floor.html")]
struct Floor {
    frame: Frame,
    session: LabSession,
    lines: Lines,
    room: Room,
    baths: Baths,
    told: Told,
    at: String,
    /// Whether it looks again by itself.
    looking: bool,
    seconds: u32,
}

/// One line for each camera.
#[derive(Template)]
#[template(path = "front/floor_lines.html")]
struct Lines {
    form: Form,
    session: LabSession,
    /// That the section is archived, in words; empty while it is not.
    kept: &'static str,
    board: Board,
    /// How many came in without standing on the roster; empty while none did.
    walk_ins: String,
    not_joined: Vec<Waiting>,
}

/// What all benches are told, and the form to say something new.
#[derive(Template)]
#[template(path = "front/floor_told.html")]
struct Told {
    form: Form,
    session: LabSession,
    words: String,
    since: String,
}

impl askama::filters::HtmlSafe for Lines {}
impl askama::filters::HtmlSafe for Told {}

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
    let form = Form::empty(&frame).prefixed("say");
    Ok(floor(&state, frame, id, form, asked.still.is_none()).await?.into_response())
}

/// The whole page; `form` is the one to say something to all benches.
async fn floor(
    state: &AppState,
    frame: Frame,
    id: LabSessionId,
    form: Form,
    looking: bool,
) -> Result<Page<Floor>, WebError> {
    let mut conn = state.store.read().await?;
    let session = find_session(&mut conn, id).await?;
    let zone = zone(&mut conn).await?;
    let now = state.now();
    let looking = looking && session.state.is_open();
    Ok(Page::new(Floor {
        lines: lines(&mut conn, &frame, &session, now).await?,
        room: room::load(&mut conn, &frame, &session, now).await?,
        baths: room::baths(&mut conn, &session, now).await?,
        told: told(&mut conn, form, &session, now).await?,
        at: now.as_time(&zone),
        looking,
        seconds: LOOK_AGAIN_SECONDS,
        frame,
        session,
    }))
}

async fn lines(
    conn: &mut SqliteConnection,
    frame: &Frame,
    session: &LabSession,
    now: Instant,
) -> Result<Lines, WebError> {
    let loaded = crate::lab::evening::board::load(conn, session, now).await?;
    let (board, not_joined) = Board::of(loaded, now);
    let kept = store::people::keeping::find(conn, session.section).await?.words();
    let walk_ins = match session.state.is_open() {
        true => store::people::walk_ins::count(conn, session.section, now).await?.words(),
        false => String::new(),
    };
    Ok(Lines { form: Form::empty(frame), session: session.clone(), kept, board, walk_ins, not_joined })
}

async fn told(conn: &mut SqliteConnection, form: Form, session: &LabSession, now: Instant) -> Result<Told, WebError> {
    let said = announcements::find(conn, session.id).await?;
    Ok(Told {
        form,
        session: session.clone(),
        since: said.as_ref().map(|said| board::ago(said.said, now)).unwrap_or_default(),
        words: said.map(|said| said.words).unwrap_or_default(),
    })
}

/// One part of the page, as the page asks for it when it is told that it changed.
async fn show_part(
    State(state): State<AppState>,
    frame: Frame,
    Path((id, part)): Path<(LabSessionId, String)>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let session = find_session(&mut conn, id).await?;
    let now = state.now();
    Ok(match part.as_str() {
        "lines" => Page::new(lines(&mut conn, &frame, &session, now).await?).into_response(),
        "room" => Page::new(room::load(&mut conn, &frame, &session, now).await?).into_response(),
        "baths" => Page::new(room::baths(&mut conn, &session, now).await?).into_response(),
        "told" => {
            let form = Form::empty(&frame).prefixed("say");
            Page::new(told(&mut conn, form, &session, now).await?).into_response()
        }
        _ => return Err(WebError::NotFound("this part of the floor")),
    })
}

/// Tells which parts changed, as they do.
async fn changes(State(state): State<AppState>, staff: Staff, jar: CookieJar) -> Result<Response, WebError> {
    let token = cookies::token_hash(&jar).ok_or(WebError::SignedOut { reading: true })?;
    Ok(live::changes(state, token, &staff.account.to_string(), PARTS).into_response())
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
