//! Where a student comes back to: what to do now, with which numbers, and whether the last entry
//! was saved.

mod now;

use askama::Template;
use axum::extract::State;
use sqlx::SqliteConnection;

use crate::lab::evening::session::FormulaHere;
use crate::web::kit::addresses::address_of;
use crate::{
    calc::working::figures,
    domain::{
        camera::{Camera, hole::Hole, target::HoleFormula},
        evening::{
            next_step::{Progress, Step, StepState, Todo, UnderWay},
            sheet_way::{DarkRoom, Place, SheetWay},
        },
        exposure::Exposure,
        instant::Instant,
        marking::{
            own_figure::{Figure, HeldBack},
            report::Report,
        },
        measure::length::{LengthUnit, computed_words},
        stock::paper::PaperBase,
    },
    store::{
        exposure::{exposures, prints},
        marking::{marks, reports},
    },
    web::kit::{
        access::{Access, Bench},
        error::WebError,
        form::Form,
        frame::Frame,
        page::Page,
        reading::Reading,
        routes::{self, Route},
        state::AppState,
    },
};

use super::{
    at_bench,
    evening::{self, Evening},
    tray_times::TrayTimes,
};
use crate::lab::exposure::at_hand::{AtHand, Learned};

use self::now::{Now, now};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        routes::page("/bench", Access::Bench, show),
        routes::page("/bench/parts/now", Access::Bench, show_now),
        routes::page("/bench/parts/steps", Access::Bench, show_steps),
    ]
}

/// The page a student comes back to.
#[derive(Template)]
#[template(path = "bench/home.html")]
struct HomePage {
    frame: Frame,
    now: NowPart,
    steps: StepsPart,
    facts: Vec<(&'static str, String)>,
    marks_back: bool,
    evening: Evening,
}

/// What to do now; follows the sheet's own way.
#[derive(Template)]
#[template(path = "bench/now.html")]
struct NowPart {
    frame: Frame,
    form: Form,
    saved: at_bench::Saved,
    /// Kind words when no session is open; empty otherwise.
    no_session: &'static str,
    now: Now,
    /// Whether another sheet may be loaded besides what the main button says.
    may_begin: bool,
}

impl askama::filters::HtmlSafe for NowPart {}

/// The steps of the work, and how far each is.
#[derive(Template)]
#[template(path = "bench/steps.html")]
struct StepsPart {
    steps: Vec<StepLine>,
}

impl askama::filters::HtmlSafe for StepsPart {}

/// One step of the work.
struct StepLine {
    name: &'static str,
    path: String,
    state: String,
    now: bool,
}

/// Everything the page is made from.
struct Desk {
    at_hand: AtHand,
    formula: HoleFormula,
    learned: Option<Learned>,
    /// The camera's or the student's sheets of this session, the newest first.
    sheets: Vec<Exposure>,
    report: Option<Report>,
    progress: Progress,
    /// The camera's sheets on their way, the newest last.
    ways: Vec<SheetWay>,
    /// The dark room with its row.
    room: DarkRoom,
    /// The unit the student works in.
    unit: LengthUnit,
    /// How long in each tray; only while a sheet is in them or called in.
    trays: Vec<Reading>,
}

impl Desk {
    /// The camera's newest sheet on its way.
    fn newest_way(&self) -> Option<&SheetWay> {
        self.ways.last()
    }

    /// Whether the camera is empty and may be loaded, where that is not what the main button says.
    fn may_begin(&self) -> bool {
        self.progress.open
            && self.progress.hole
            && self.progress.todo() != Todo::LoadSheet
            && self.ways.iter().all(|way| way.place == Place::InTheTrays)
    }
}

/// What to do now, with which numbers.
async fn show(State(state): State<AppState>, frame: Frame, bench: Bench) -> Result<Page<impl Template>, WebError> {
    let form = Form::empty(&frame);
    page(&state, frame, &bench, form).await
}

/// The page; `form` is the one to call for help.
pub(super) async fn page(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    form: Form,
) -> Result<Page<impl Template + use<>>, WebError> {
    let mut conn = state.store.read().await?;
    let desk = desk(&mut conn, bench, state.now()).await?;
    let partners = match &desk.at_hand.camera {
        Some(camera) => at_bench::partners(&mut conn, camera.id, bench.student).await?,
        None => Vec::new(),
    };
    Ok(Page::new(HomePage {
        now: now_part(&mut conn, frame.clone(), bench, &desk, state.now()).await?,
        steps: steps_part(&desk),
        facts: facts(&desk, &partners, &frame.held),
        marks_back: !marks::list_given_back(&mut conn, bench.student).await?.is_empty(),
        evening: Evening::load(&mut conn, bench, &desk.at_hand, form, state.now()).await?,
        frame,
    }))
}

async fn show_now(State(state): State<AppState>, frame: Frame, bench: Bench) -> Result<Page<impl Template>, WebError> {
    let mut conn = state.store.read().await?;
    let desk = desk(&mut conn, &bench, state.now()).await?;
    Ok(Page::new(now_part(&mut conn, frame, &bench, &desk, state.now()).await?))
}

async fn show_steps(State(state): State<AppState>, bench: Bench) -> Result<Page<impl Template>, WebError> {
    let desk = desk(&mut *state.store.read().await?, &bench, state.now()).await?;
    Ok(Page::new(steps_part(&desk)))
}

async fn now_part(
    conn: &mut SqliteConnection,
    frame: Frame,
    bench: &Bench,
    desk: &Desk,
    at: Instant,
) -> Result<NowPart, WebError> {
    Ok(NowPart {
        saved: at_bench::last_saved(conn, bench.actor(), at).await?,
        no_session: no_session(desk),
        may_begin: desk.may_begin(),
        now: now(desk, &frame.held),
        form: Form::empty(&frame),
        frame,
    })
}

fn steps_part(desk: &Desk) -> StepsPart {
    let place = desk.newest_way().map_or("", |way| way.place.as_str());
    StepsPart { steps: Step::ALL.into_iter().map(|step| step_line(desk.progress, step, place)).collect() }
}

async fn desk(conn: &mut SqliteConnection, bench: &Bench, now: Instant) -> Result<Desk, WebError> {
    let at_hand = AtHand::load(conn, bench.section, bench.student).await?;
    let formula = FormulaHere::find(conn, bench.section).await?.formula;
    let learned = at_hand.learned(conn).await?;
    let session = at_hand.evening.as_ref().map(|(session, _)| session.id);
    let mut sheets = exposures::list_of_student(conn, bench.student).await?;
    sheets.retain(|sheet| Some(sheet.session) == session);
    let made = prints::list_of_student(conn, bench.student).await?;
    let report = match session {
        Some(session) => reports::find(conn, session, bench.student).await?,
        None => None,
    };
    let (ways, room) = evening::sheets_on_their_way(conn, &at_hand).await?;
    let progress = Progress {
        camera: at_hand.camera.is_some(),
        uses_trays: at_hand.camera.as_ref().is_some_and(Camera::uses_trays),
        hole: at_hand.hole.is_some(),
        sheets: sheets.len(),
        unjudged: sheets.iter().filter(|sheet| sheet.judgement.is_none()).count(),
        good_negative: sheets.iter().any(Exposure::good_to_print),
        prints: made.iter().filter(|print| Some(print.session) == session).count(),
        report: report.as_ref().is_some_and(|report| report.state.is_submitted()),
        open: at_hand.open_session().is_some(),
        sheet: UnderWay::newest(&ways.iter().collect::<Vec<_>>()),
    };
    let trays = match (progress.todo(), at_hand.open_session().and_then(|session| session.tray_line)) {
        (Todo::WaitForPlace | Todo::MindTrays, Some(line)) => {
            let base = at_hand.loaded.as_ref().map_or(PaperBase::Unknown, |paper| paper.base);
            TrayTimes::load(conn, line, base, None, now).await?.readings()
        }
        _ => Vec::new(),
    };
    Ok(Desk { at_hand, formula, learned, sheets, report, progress, ways, room, trays, unit: bench.unit() })
}

fn no_session(desk: &Desk) -> &'static str {
    if desk.progress.open {
        ""
    } else if desk.at_hand.evening.is_some() {
        "No session is open now. Sheets from your cards can be typed in by your instructor; your records, and your report until it is marked, stay here."
    } else {
        "No session is open yet. You can already register your camera and make its hole; sheets follow when your instructor opens the session."
    }
}

/// `place` is where the newest sheet is; empty when none is on its way.
fn step_line(progress: Progress, step: Step, place: &str) -> StepLine {
    let state = progress.state(step);
    let words = match state {
        StepState::Now if step == Step::Sheets && !place.is_empty() => format!("{}: {place}", state.as_str()),
        _ => state.as_str().to_owned(),
    };
    StepLine { name: step.as_str(), path: address_of(&step.destination()), state: words, now: state == StepState::Now }
}

fn facts(desk: &Desk, partners: &[String], held: &HeldBack) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    if let Some(camera) = &desk.at_hand.camera {
        facts.push(("Camera", format!("number {}, {}", camera.number, camera.build().as_str())));
        let partners = if partners.is_empty() { "nobody: you work alone".to_owned() } else { partners.join(", ") };
        facts.push(("Partners", partners));
    }
    if let Some((camera, hole)) = desk.at_hand.camera.as_ref().zip(desk.at_hand.hole.as_ref()) {
        facts.push(("Hole", hole_words(camera, hole, held, desk.unit)));
    }
    if let Some((session, paper)) = &desk.at_hand.evening {
        facts.push(("Session", format!("{}, {}", session.title, session.state.as_str())));
        if desk.at_hand.camera.as_ref().is_some_and(Camera::holds_film) {
            let film = desk.at_hand.loaded.as_ref().map_or("not named yet", |film| film.name.as_str());
            facts.push(("Film", film.to_owned()));
        } else {
            facts.push(("Paper", paper.name.clone()));
        }
    }
    facts
}

fn hole_words(camera: &Camera, hole: &Hole, held: &HeldBack, unit: LengthUnit) -> String {
    let diameter = computed_words(hole.diameter().as_mm(), 3, unit);
    if !held.shows(Figure::FNumber) {
        return diameter;
    }
    format!("{diameter}, f/{}", figures(hole.f_number(camera.hole_to_film()).as_number(), 3))
}
