//! The trays: what stands in them and how far it is used, what this student put through, and a form
//! for test strips and other sheets that have no record of their own.

use askama::Template;
use axum::{
    extract::{Path, Query, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;
use serde::Deserialize;
use sqlx::SqliteConnection;

use crate::lab::evening::session::zone;
use crate::{
    calc::working::figures,
    domain::{
        baths::condition::condition,
        evening::lab_session::{LabSession, SessionState},
        field_errors::FieldErrors,
        ids::{MovementId, PaperId, SheetRunId, StudentId},
        instant::Instant,
        people::actor::Actor,
        stock::{
            paper::{Paper, PaperBase, PaperKind},
            sheet::Sheet,
        },
    },
    store::{
        WriteError,
        baths::{
            batches,
            sheet_runs::{self, NewSheetRun, SheetOf, SheetRun},
            tray_lines,
        },
        camera::cameras,
        evening::lab_sessions,
        people::{change_log, sections},
        stock::papers,
    },
    web::{
        kit::{
            access::{Access, Bench},
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

use super::{at_bench, tray_times::TrayTimes};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/bench/chemistry", Access::Bench, show),
        change("/bench/chemistry", Access::Bench, record),
        change("/bench/chemistry/{id}/take-back", Access::Bench, take_back),
    ]
}

/// The page of the trays.
#[derive(Template)]
#[template(path = "bench/trays.html")]
struct TraysPage {
    frame: Frame,
    saved: at_bench::Saved,
    /// Why there is nothing to show; empty when there is.
    nothing: &'static str,
    line: String,
    trays: Vec<Tray>,
    /// How long it is washed, and where that is from.
    wash: (&'static str, &'static str),
    /// What the times are for: the session's paper, or any paper.
    times_for: String,
    /// The temperature that the developer's time holds at.
    at: String,
    /// Asks for another one.
    warmth: Form,
    degree: &'static str,
    fixer_stands: bool,
    skips_trays: bool,
    runs: Vec<Run>,
    form: Option<Form>,
    kinds: Vec<(String, String)>,
    papers: Vec<(String, String)>,
    plain: Form,
}

/// One tray.
struct Tray {
    slot: &'static str,
    batch: String,
    /// How long a sheet stays in it, and how that comes about.
    time: String,
    time_why: String,
    advice: &'static str,
    why: String,
    sheets: i64,
}

/// Sheets this student put through.
struct Run {
    when: String,
    what: &'static str,
    sheets: i64,
    area: String,
    /// Where to take it back; empty when it has a page of its own.
    take_back: String,
}

fn kinds() -> Vec<(String, String)> {
    [("test strip", "Test strips"), ("other", "Other sheets, for example one that failed before it was recorded")]
        .map(|(value, words)| (value.to_owned(), words.to_owned()))
        .to_vec()
}

/// Everything the page shows, read at once.
async fn trays_page(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    refused: Option<Form>,
    developer_at: &str,
) -> Result<TraysPage, WebError> {
    let mut conn = state.store.read().await?;
    let zone = zone(&mut conn).await?;
    let session = lab_sessions::find_open(&mut conn, bench.section).await?;
    let camera = cameras::find_of_student(&mut conn, bench.student).await?;
    let plain = Form::empty(&frame);
    let units = frame.units;
    let mut shown = TraysPage {
        wash: ("", ""),
        times_for: String::new(),
        at: String::new(),
        warmth: Form::empty(&frame),
        degree: units.degree(),
        saved: at_bench::last_saved(&mut conn, bench.actor(), state.now()).await?,
        nothing: "",
        line: String::new(),
        trays: Vec::new(),
        fixer_stands: false,
        skips_trays: camera.is_some_and(|camera| !camera.uses_trays()),
        runs: Vec::new(),
        form: None,
        kinds: kinds(),
        papers: Vec::new(),
        plain,
        frame,
    };
    let Some(session) = session else {
        shown.nothing = "No session is open, so nothing goes through the trays now. Sheets from an earlier evening: give the card to your instructor, who types it in.";
        return Ok(shown);
    };
    shown.runs = runs(&mut conn, bench.student, &session, &zone).await?;
    let Some(line) = session.tray_line else {
        shown.nothing = "No tray line is set for this session: ask your instructor which trays to use.";
        return Ok(shown);
    };
    shown.line = tray_lines::find(&mut conn, line).await?.map(|line| line.name).unwrap_or_default();
    let mut errors = FieldErrors::none();
    let milli_c = match developer_at.trim() {
        "" => None,
        typed => units.read_temperature(typed).map_err(|error| errors.add("developer_at", error.to_string())).ok(),
    };
    let paper = papers::find(&mut conn, session.paper).await?.filter(|paper| paper.kind == PaperKind::Paper);
    let base = paper.as_ref().map_or(PaperBase::Unknown, |paper| paper.base);
    let times = TrayTimes::load(&mut conn, line, base, milli_c, state.now()).await?;
    shown.at = units.temperature(times.milli_c);
    shown.wash = (times.wash, times.wash_why);
    shown.times_for = paper.map_or_else(|| "paper".to_owned(), |paper| paper.name);
    let typed =
        if developer_at.trim().is_empty() { units.degrees(times.milli_c) } else { developer_at.trim().to_owned() };
    shown.warmth = Form::filled(&shown.frame, 0, [("developer_at", typed)]).with_errors(errors);
    shown.trays = trays(&mut conn, times, state.now()).await?;
    shown.fixer_stands = shown.trays.iter().any(|tray| tray.slot.ends_with("fixer"));
    let all = papers::list(&mut conn).await?;
    shown.papers = all.iter().map(|paper| (paper.id.to_string(), paper.name.clone())).collect();
    shown.form = Some(refused.unwrap_or_else(|| {
        let values = [
            ("what", "test strip".to_owned()),
            ("paper", session.paper.to_string()),
            ("sheets", "1".to_owned()),
            ("developed_at", state.now().as_local_control(&zone)),
        ];
        Form::filled(&shown.frame, 0, values)
    }));
    Ok(shown)
}

async fn trays(conn: &mut SqliteConnection, times: TrayTimes, now: Instant) -> Result<Vec<Tray>, WebError> {
    let mut trays = Vec::new();
    for tray in times.trays {
        let batch = tray.batch;
        let load = batches::load(conn, batch.id).await?;
        // the same verdict as the instructor sees
        let judged = condition(&batch, &load, now);
        trays.push(Tray {
            slot: tray.slot.as_str(),
            time: tray.time,
            time_why: tray.why,
            batch: format!("{}: {} {}", batch.name(), batch.product_name, batch.parts()),
            advice: judged.advice.as_str(),
            why: judged.reasons.join("; "),
            sheets: load.sheets,
        });
    }
    Ok(trays)
}

async fn runs(
    conn: &mut SqliteConnection,
    student: StudentId,
    session: &LabSession,
    zone: &TimeZone,
) -> Result<Vec<Run>, WebError> {
    let runs = sheet_runs::list_of_student(conn, student, session.id).await?;
    Ok(runs.iter().map(|run| line_of(run, zone)).collect())
}

fn line_of(run: &SheetRun, zone: &TimeZone) -> Run {
    let own_page = matches!(run.what, SheetOf::Negative(_) | SheetOf::Print(_));
    Run {
        when: run.developed_at.as_time(zone),
        what: run.what.as_str(),
        sheets: run.sheets,
        area: figures(run.area_mm2 as f64 / 100.0, 3),
        take_back: if own_page { String::new() } else { format!("/bench/chemistry/{}/take-back", run.id) },
    }
}

/// What the address may carry.
#[derive(Debug, Default, Deserialize)]
struct Asked {
    /// How warm the developer is, as typed.
    #[serde(default)]
    developer_at: String,
}

/// What stands in the trays, and how long a sheet stays in each.
async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Query(asked): Query<Asked>,
) -> Result<Response, WebError> {
    let shown = trays_page(&state, frame, &bench, None, &asked.developer_at).await?;
    let refused = shown.warmth.is_refused();
    let page = Page::new(shown);
    Ok(if refused { page.unprocessable().into_response() } else { page.into_response() })
}

/// Sheets as the form gives them.
struct Sheets {
    what: SheetOf,
    paper: PaperId,
    sheets: i64,
    area_mm2: i64,
    developed_at: Instant,
}

fn read(posted: &Posted, zone: &TimeZone) -> Result<Sheets, FieldErrors> {
    let mut r = posted.reader();
    let what = r.choice("what", |word| SheetOf::from_parts(word, None, None));
    let paper = r.id::<PaperId>("paper");
    let size = Sheet::parse(r.raw("size")).map_err(|error| r.wrong("size", error.to_string())).ok();
    let sheets = r.whole("sheets", 1..=100);
    let developed_at = r.local_time("developed_at", zone);
    if developed_at.is_some_and(|at| at > posted.at()) {
        r.wrong("developed_at", "must not lie in the future");
    }
    r.finish((|| {
        let sheets = sheets?;
        Some(Sheets {
            what: what?,
            paper: paper?,
            sheets,
            area_mm2: size?.area_mm2() * sheets,
            developed_at: developed_at?,
        })
    })())
}

/// Records sheets that went through the trays: they load what stood in the line.
async fn record(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = {
        let mut conn = state.store.read().await?;
        zone(&mut conn).await?
    };
    let saved = match read(&posted, &zone) {
        Err(errors) => Err(WriteError::Refused(errors)),
        Ok(sheets) => {
            let ids = (state.mint::<SheetRunId>(), state.mint::<MovementId>());
            let (bench, at) = (bench.clone(), posted.at());
            state.store.write(posted.stamp(), move |tx| Box::pin(recorded(tx, bench, sheets, ids, at, zone))).await
        }
    };
    match saved {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let form = Form::refused(&posted, errors);
            Ok(Page::new(trays_page(&state, frame, &bench, Some(form), "").await?).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn recorded(
    tx: &mut SqliteConnection,
    bench: Bench,
    sheets: Sheets,
    (id, movement): (SheetRunId, MovementId),
    at: Instant,
    zone: TimeZone,
) -> Result<String, WriteError> {
    let closed = WriteError::Forbidden("no session is open: give your card to the instructor");
    let session = lab_sessions::find_open(tx, bench.section).await?.ok_or(closed)?;
    let no_line = WriteError::Forbidden("no tray line is set for this session: ask your instructor");
    let tray_line = session.tray_line.ok_or(no_line)?;
    let SessionState::Open { opened_at } = session.state else {
        return Err(WriteError::Missing("an open session"));
    };
    // the form's times are whole minutes
    if sheets.developed_at.plus_minutes(1) <= opened_at {
        let words = format!("this session was opened at {}: give a time after that", opened_at.as_words(&zone));
        return Err(FieldErrors::one("developed_at", words).into());
    }
    let paper = papers::find(tx, sheets.paper).await?;
    let Some(Paper { kind: PaperKind::Paper, .. }) = paper else {
        return Err(FieldErrors::one("paper", "film does not go through these trays; choose a paper").into());
    };
    let section = sections::find(tx, bench.section).await?.ok_or(WriteError::Missing("your section"))?;
    let run = NewSheetRun {
        id,
        movement,
        site: section.site,
        lab_session: Some(session.id),
        tray_line,
        paper: sheets.paper,
        what: sheets.what,
        student: Some(bench.student),
        sheets: sheets.sheets,
        area_mm2: sheets.area_mm2,
        developed_at: sheets.developed_at,
    };
    sheet_runs::record(tx, bench.actor(), &run, at).await?;
    let detail = format!("{} × {}", run.sheets, run.what.as_str());
    change_log::insert(tx, at, bench.actor(), "sheets through the trays", "sheet_run", id, &detail).await?;
    Ok("/bench/chemistry".to_owned())
}

/// Takes back sheets that were recorded by mistake.
async fn take_back(
    State(state): State<AppState>,
    bench: Bench,
    Path(id): Path<SheetRunId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (movement, student, at) = (state.mint::<MovementId>(), bench.student, posted.at());
    let saved = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let run = sheet_runs::find(tx, id).await?.filter(|run| run.student == Some(student));
                let run = run.ok_or(WriteError::Missing("these sheets among yours"))?;
                if matches!(run.what, SheetOf::Negative(_) | SheetOf::Print(_)) {
                    return Err(WriteError::Forbidden("a negative or print is corrected on its own page"));
                }
                let actor = Actor::Student(student);
                sheet_runs::undo(tx, actor, id, movement, at, "recorded by mistake").await?;
                let detail = format!("{} × {}", run.sheets, run.what.as_str());
                change_log::insert(tx, at, actor, "sheets taken back", "sheet_run", id, &detail).await?;
                Ok("/bench/chemistry".to_owned())
            })
        })
        .await;
    match saved {
        Ok(landing) => Ok(see_other(&landing)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
