//! A student's part of the evening as the floor sees it: where their sheets are, calling for help,
//! and what all benches are told.

use askama::Template;
use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::{
            lab_session::LabSession,
            next_step::UnderWay,
            sheet_way::{DarkRoom, Place, SheetWay},
        },
        ids::SheetWayId,
        instant::Instant,
    },
    store::{
        baths::tray_lines,
        evening::{help_calls, sheet_ways},
    },
    web::kit::{
        access::{Access, Bench},
        cookies,
        error::WebError,
        form::Form,
        frame::Frame,
        live::{self, Part},
        page::Page,
        routes::{Route, page},
        state::AppState,
    },
};

use super::at_bench::RECORD;
use crate::lab::exposure::at_hand::AtHand;

/// The parts of a bench page that others can change, and the tables they are made from.
const PARTS: &[Part] = &[
    ("told", &["announcement", "lab_session"]),
    ("now", &["sheet_way"]),
    ("evening", &["help_call", "sheet_way"]),
    ("steps", &["sheet_way"]),
];

/// The routes of this part.
pub fn routes() -> Vec<Route> {
    vec![
        page("/bench/changes", Access::Bench, changes),
        page("/bench/parts/told", Access::Bench, show_told),
        page("/bench/parts/evening", Access::Bench, show_evening),
    ]
}

/// The part of the page.
#[derive(Debug, Template)]
#[template(path = "bench/evening.html")]
pub struct Evening {
    form: Form,
    open: bool,
    ways: Vec<OwnWay>,
    /// Whether the hole is measured, so that a sheet may begin its way.
    measured: bool,
    called: Option<(String, String)>,
}

/// One of the student's sheets on its way.
#[derive(Debug)]
struct OwnWay {
    id: SheetWayId,
    words: String,
    /// Their place in the row, while they wait.
    row: String,
    /// Where it can go besides the way of the page's main button.
    onward: Vec<(&'static str, &'static str)>,
    to_judge: bool,
    /// Where it is judged, or its record written.
    judge: String,
}

impl askama::filters::HtmlSafe for Evening {}

/// A button that moves a sheet there: what it sends, and its words.
pub fn button(place: Place) -> (&'static str, &'static str) {
    let words = match place {
        Place::Loading => "Into the dark room to load",
        Place::Outside => "Loaded: we go outside",
        Place::Waiting => "Back: we wait for a place",
        Place::InTheTrays => "Into the dark room, to the trays",
    };
    (place.as_str(), words)
}

fn minutes(at: Instant, now: Instant) -> String {
    match now.micros_since(at).max(0) / 60_000_000 {
        0 => "just now".to_owned(),
        1 => "for a minute".to_owned(),
        minutes @ 2..=180 => format!("for {minutes} minutes"),
        _ => "for more than three hours".to_owned(),
    }
}

impl Evening {
    /// Loads it; `form` is the one to call for help.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn load(
        conn: &mut SqliteConnection,
        bench: &Bench,
        at_hand: &AtHand,
        form: Form,
        now: Instant,
    ) -> Result<Self, WebError> {
        let called = help_calls::find_of_student(conn, bench.student).await?;
        let mut evening = Self {
            form,
            open: at_hand.open_session().is_some(),
            ways: Vec::new(),
            measured: at_hand.hole.is_some(),
            called: called.map(|call| (call.why, minutes(call.called, now))),
        };
        if at_hand.open_session().is_none() || at_hand.camera.is_none() {
            return Ok(evening);
        }
        let (own, room) = sheets_on_their_way(conn, at_hand).await?;
        let uses_trays = at_hand.uses_trays();
        evening.ways = own
            .iter()
            .enumerate()
            .map(|(index, way)| {
                let called = room.may_come().contains(&way.camera);
                // the newest sheet's main move is the page's one main button
                let main = (index + 1 == own.len()).then(|| UnderWay::of(way).main_move(uses_trays, called)).flatten();
                let onward = way.place.onward(uses_trays).iter().filter(|place| Some(**place) != main);
                OwnWay {
                    id: way.id,
                    words: format!("{}, {}", way.place.as_str(), minutes(way.since, now)),
                    row: row_words(&room, way),
                    onward: onward.map(|place| button(*place)).collect(),
                    // of the newest sheet in the trays the main button says so already
                    to_judge: (way.place == Place::InTheTrays && index + 1 < own.len())
                        || (way.place == Place::Outside && !uses_trays),
                    judge: way
                        .exposure
                        .map_or_else(|| RECORD.to_owned(), |exposure| format!("/bench/exposures/{exposure}#judge")),
                }
            })
            .collect();
        Ok(evening)
    }
}

/// The camera's sheets on their way in the open session, the newest last, and the dark room as it is.
///
/// # Errors
/// When the database cannot be used.
pub async fn sheets_on_their_way(
    conn: &mut SqliteConnection,
    at_hand: &AtHand,
) -> Result<(Vec<SheetWay>, DarkRoom), WebError> {
    let (Some(session), Some(camera)) = (at_hand.open_session(), &at_hand.camera) else {
        return Ok((Vec::new(), DarkRoom::default()));
    };
    let ways = sheet_ways::list(conn, session.id).await?;
    let room = DarkRoom::of(&ways, places(conn, session).await?);
    Ok((ways.into_iter().filter(|way| way.camera == camera.id).collect(), room))
}

fn row_words(room: &DarkRoom, way: &SheetWay) -> String {
    if way.place != Place::Waiting {
        return String::new();
    }
    match room.position(way.camera) {
        Some(_) if room.may_come().contains(&way.camera) => "There is a place for you now.".to_owned(),
        Some(1) => "You are next.".to_owned(),
        Some(position) => format!("You are number {position} in the row."),
        None => String::new(),
    }
}

async fn places(conn: &mut SqliteConnection, session: &LabSession) -> Result<Option<i64>, WebError> {
    Ok(match session.tray_line {
        Some(line) => tray_lines::find(conn, line).await?.and_then(|line| line.places),
        None => None,
    })
}

/// What all benches are told.
#[derive(Template)]
#[template(source = "{% if !told.is_empty() %}<p class=\"told\">{{ told }}</p>{% endif %}", ext = "html")]
struct ToldPart {
    told: String,
}

async fn show_told(frame: Frame) -> Page<impl Template> {
    Page::new(ToldPart { told: frame.told })
}

async fn show_evening(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
) -> Result<Page<impl Template>, WebError> {
    let mut conn = state.store.read().await?;
    let at_hand = AtHand::load(&mut conn, bench.section, bench.student).await?;
    Ok(Page::new(Evening::load(&mut conn, &bench, &at_hand, Form::empty(&frame), state.now()).await?))
}

/// Tells which parts changed, as they do.
async fn changes(State(state): State<AppState>, bench: Bench, jar: CookieJar) -> Result<Response, WebError> {
    let token = cookies::token_hash(&jar).ok_or(WebError::SignedOut { reading: true })?;
    Ok(live::changes(state, token, &bench.student.to_string(), PARTS).into_response())
}
