//! Where a student comes back to: what to do now, with which numbers, and whether the last entry
//! was saved.

use askama::Template;
use axum::extract::State;
use sqlx::SqliteConnection;

use crate::{
    calc::working::{figures, seconds_text},
    domain::{
        camera::Camera,
        exposure::Exposure,
        found_light::FoundLight,
        hole::Hole,
        lab_session::LabSession,
        next_step::{Progress, Step, StepState},
        own_figure::{Figure, HeldBack},
        report::Report,
        target::{HoleFormula, Target},
    },
    store::{exposures, marks, prints, reports},
    web::{
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
    at_hand::{AtHand, Learned},
    evening::Evening,
};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![routes::page("/bench", Access::Bench, show)]
}

/// The page a student comes back to.
#[derive(Template)]
#[template(path = "bench/home.html")]
struct HomePage {
    frame: Frame,
    saved: String,
    /// Kind words when no session is open; empty otherwise.
    no_session: &'static str,
    now: Now,
    steps: Vec<StepLine>,
    facts: Vec<(&'static str, String)>,
    marks_back: bool,
    evening: Evening,
}

/// What to do now.
struct Now {
    heading: String,
    words: String,
    numbers: Vec<Reading>,
    caution: &'static str,
    path: String,
    button: &'static str,
}

/// One step of the work.
struct StepLine {
    name: &'static str,
    path: &'static str,
    state: &'static str,
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
    let desk = desk(&mut conn, bench).await?;
    let partners = match &desk.at_hand.camera {
        Some(camera) => at_bench::partners(&mut conn, camera.id, bench.student).await?,
        None => Vec::new(),
    };
    Ok(Page::new(HomePage {
        saved: at_bench::last_saved(&mut conn, bench.actor()).await?,
        no_session: no_session(&desk),
        now: now(&desk),
        steps: Step::ALL.into_iter().map(|step| step_line(desk.progress, step)).collect(),
        facts: facts(&desk, &partners, &frame.held),
        marks_back: !marks::list_given_back(&mut conn, bench.student).await?.is_empty(),
        evening: Evening::load(&mut conn, bench, &desk.at_hand, form, state.now()).await?,
        frame,
    }))
}

async fn desk(conn: &mut SqliteConnection, bench: &Bench) -> Result<Desk, WebError> {
    let at_hand = AtHand::load(conn, bench).await?;
    let formula = at_bench::formula_here(conn, bench.section).await?.formula;
    let learned = at_hand.learned(conn).await?;
    let session = at_hand.evening.as_ref().map(|(session, _)| session.id);
    let mut sheets = exposures::list_of_student(conn, bench.student).await?;
    sheets.retain(|sheet| Some(sheet.session) == session);
    let made = prints::list_of_student(conn, bench.student).await?;
    let report = match session {
        Some(session) => reports::find(conn, session, bench.student).await?,
        None => None,
    };
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
    };
    Ok(Desk { at_hand, formula, learned, sheets, report, progress })
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

fn step_line(progress: Progress, step: Step) -> StepLine {
    let state = progress.state(step);
    StepLine { name: step.as_str(), path: step.path(), state: state.as_str(), now: state == StepState::Now }
}

fn facts(desk: &Desk, partners: &[String], held: &HeldBack) -> Vec<(&'static str, String)> {
    let mut facts = Vec::new();
    if let Some(camera) = &desk.at_hand.camera {
        facts.push(("Camera", format!("number {}, {}", camera.number, camera.build().as_str())));
        let partners = if partners.is_empty() { "nobody: you work alone".to_owned() } else { partners.join(", ") };
        facts.push(("Partners", partners));
    }
    if let Some((camera, hole)) = desk.at_hand.camera.as_ref().zip(desk.at_hand.hole.as_ref()) {
        facts.push(("Hole", hole_words(camera, hole, held)));
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

fn hole_words(camera: &Camera, hole: &Hole, held: &HeldBack) -> String {
    let diameter = figures(hole.diameter().as_mm(), 3);
    if !held.shows(Figure::FNumber) {
        return format!("{diameter} mm");
    }
    format!("{diameter} mm, f/{}", figures(hole.f_number(camera.hole_to_film()).as_number(), 3))
}

fn now(desk: &Desk) -> Now {
    let step = desk.progress.now();
    match (step, &desk.at_hand.camera) {
        (Step::Hole, Some(camera)) => make_the_hole(camera, desk.formula),
        (Step::Sheets, Some(_)) => next_sheet(desk),
        (Step::Prints, Some(_)) => print(desk),
        (Step::Report, Some(_)) => write(desk),
        _ => measure_the_camera(),
    }
}

fn measure_the_camera() -> Now {
    Now {
        heading: "Measure your camera".to_owned(),
        words: "Take three measures with a ruler, inside: from the hole to the film, and the film's two sides. You are told which hole to make. If your partner has registered the camera you share, join it instead.".to_owned(),
        numbers: Vec::new(),
        caution: "",
        path: Step::Camera.path().to_owned(),
        button: "Go to the camera",
    }
}

fn make_the_hole(camera: &Camera, formula: HoleFormula) -> Now {
    let target = Target::of(camera, formula);
    Now {
        heading: "Make the hole and measure it".to_owned(),
        words: "Mark the needle where its taper fills the micrometer, drill from both faces, smooth, then measure twice across.".to_owned(),
        numbers: vec![
            Reading::plain("Hole to make", target.hole_working(camera).value),
            Reading::plain("Micrometer", target.setting().metric_text()).remark(target.setting().thousandths_text()),
        ],
        caution: "Push needles into a board, count them back; thin brass cuts. Never look at the sun through the hole or a finder.",
        path: Step::Hole.path().to_owned(),
        button: "Go to the hole",
    }
}

fn next_sheet(desk: &Desk) -> Now {
    if let Some(sheet) = desk.sheets.iter().rev().find(|sheet| sheet.judgement.is_none()) {
        return Now {
            heading: format!("Judge sheet {}", sheet.number),
            words: format!(
                "It was open for {}. When it is through the trays, say how it came out: the next time follows from it.",
                seconds_text(sheet.made_ms as f64 / 1000.0)
            ),
            numbers: Vec::new(),
            caution: "Wet floor in the dark: walk slowly, say where you are. Tongs or gloves; dry hands before any switch.",
            path: format!("{}/{}", Step::Sheets.path(), sheet.id),
            button: "Judge it",
        };
    }
    let heading = if desk.sheets.is_empty() { "Load a sheet and expose it" } else { "Expose another sheet" };
    Now {
        heading: heading.to_owned(),
        words: if desk.at_hand.needs_film() {
            "Say first which film is in the camera: its speed counts, not that of the session’s paper.".to_owned()
        } else if desk.sheets.is_empty() {
            "Load in the darkroom, sensitive side towards the hole. Set the camera down where it cannot move."
                .to_owned()
        } else {
            "The time below has learned from the sheets so far.".to_owned()
        },
        numbers: desk.learned.as_ref().map(|learned| next_times(learned, &desk.sheets)).unwrap_or_default(),
        caution: "Outside: never look at the sun through the hole or a finder, stay off the roadway, and leave no needle in a box.",
        path: Step::Sheets.path().to_owned(),
        button: "Go to the sheets",
    }
}

/// How long to leave it open: in the light of the last sheet, or under two skies to choose from.
fn next_times(learned: &Learned, sheets: &[Exposure]) -> Vec<Reading> {
    use crate::calc::light::{
        given_time::notes,
        sky::{Sky, SunFrom},
    };
    let time = |name: &str, found: FoundLight| {
        let forecast = learned.start(found.light()).forecast;
        let said = notes([&forecast.practical]);
        let interval = forecast.interval_text();
        // the interval says itself what its star means
        let said = said.into_iter().filter(|note| !interval.contains(note));
        let remark: Vec<String> = std::iter::once(interval.clone()).chain(said.map(str::to_owned)).collect();
        Reading::plain(name, forecast.practical.text.clone()).remark(remark.join("; "))
    };
    let last = sheets.first().and_then(|sheet| FoundLight::parse_words(&sheet.light_typed));
    match last {
        Some(found) => vec![time(&format!("Open for, in the light of your last sheet ({})", found.in_words()), found)],
        None => [Sky::FullSun, Sky::HeavyOvercast]
            .into_iter()
            .map(|sky| time(&format!("Open for, {}", sky.label()), FoundLight::Sky(sky, SunFrom::Front)))
            .collect(),
    }
}

fn print(desk: &Desk) -> Now {
    let number = desk.sheets.iter().find(|sheet| sheet.good_to_print()).map_or(0, |sheet| sheet.number);
    Now {
        heading: "Make a contact print".to_owned(),
        words: format!(
            "Sheet {number} is good to print from. Dry it first; picture side to picture side, under glass. Begin with a test strip."
        ),
        numbers: Vec::new(),
        caution: "Glass edges cut. Dry hands before the lamp and its switch.",
        path: Step::Prints.path().to_owned(),
        button: "Go to the prints",
    }
}

fn write(desk: &Desk) -> Now {
    let task = desk.at_hand.evening.as_ref().map_or("", |(session, _): &(LabSession, _)| session.report_task.as_str());
    let (heading, button) = match &desk.report {
        Some(report) if report.state.is_submitted() => ("Your report is handed in", "See it"),
        Some(_) => ("Finish your report", "Go to the report"),
        None => ("Write your report", "Go to the report"),
    };
    Now {
        heading: heading.to_owned(),
        words: if task.is_empty() { "What did your sheets teach you?".to_owned() } else { task.to_owned() },
        numbers: Vec::new(),
        caution: "",
        path: Step::Report.path().to_owned(),
        button,
    }
}
