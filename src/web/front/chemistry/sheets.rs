//! `/front/chemistry/sheets`: sheets that staff record for nobody in particular, so that the sheets
//! recorded can be reconciled with the sheets counted from the box.

use askama::Template;
use axum::{
    extract::{Path, RawQuery, State},
    response::Response,
};

use sqlx::SqliteConnection;

use crate::{
    domain::{
        baths::sheet_run::{Decision, NewSheetRun, SheetOf},
        field_errors::FieldErrors,
        ids::{LabSessionId, PaperId, SheetRunId, TrayLineId},
        measure::length::LengthUnit,
        site::Site,
    },
    store::{
        Error, WriteError,
        baths::{sheet_runs, tray_lines},
        evening::lab_sessions,
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
        request::{posted::Posted, takes::Takes},
    },
};

use super::super::vessel_acts::shown;

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/chemistry/sheets", Access::Staff, show),
        change("/front/chemistry/sheets", Access::Staff, create).taking(Takes::PILE),
        change("/front/chemistry/sheets/look-again", Access::Staff, look_again),
        change("/front/chemistry/sheets/{id}/take-back", Access::Staff, take_back),
        change("/front/chemistry/sheets/decide", Access::Instructor, decide).taking(Takes::PILE),
    ]
}

#[derive(Template)]
#[template(path = "front/sheets_recorded.html")]
struct SheetsPage {
    frame: Frame,
    form: Form,
    lines: Vec<(String, String)>,
    papers: Vec<(String, String)>,
    kinds: Vec<(String, String)>,
    tally: Vec<(String, i64)>,
    sessions: Vec<(String, String)>,
}

async fn show(State(state): State<AppState>, frame: Frame, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let asked: Vec<(String, String)> =
        form_urlencoded::parse(query.unwrap_or_default().as_bytes()).into_owned().collect();
    show_with(&state, frame, None, &asked).await
}

/// The page; `asked` names a session or a paper to begin with.
async fn show_with(
    state: &AppState,
    frame: Frame,
    refused: Option<Form>,
    asked: &[(String, String)],
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let is_refused = refused.is_some();
    let begun = || {
        let at = state.now().as_local_control(&site.zone);
        let of = |name: &str| {
            asked.iter().find(|(field, _)| field == name).map_or(String::new(), |(_, value)| value.clone())
        };
        let begins = [
            ("happened_at", at),
            ("what", "other".to_owned()),
            ("sheets", "1".to_owned()),
            ("session", of("session")),
            ("paper", of("paper")),
        ];
        Form::filled(&frame, 0, begins)
    };
    let kinds = [("test strip", "test strips"), ("other", "anything else")];
    let page = Page::new(SheetsPage {
        form: refused.unwrap_or_else(begun),
        lines: tray_lines::list(&mut conn).await?.into_iter().map(|line| (line.id.to_string(), line.name)).collect(),
        papers: papers::list(&mut conn).await?.into_iter().map(|paper| (paper.id.to_string(), paper.name)).collect(),
        kinds: kinds.into_iter().map(|(value, words)| (value.to_owned(), words.to_owned())).collect(),
        tally: sheet_runs::tally(&mut conn).await?,
        sessions: sessions(&mut conn).await?,
        frame,
    });
    Ok(shown(page, is_refused))
}

/// The newest sessions, and that it was in none.
async fn sessions(conn: &mut SqliteConnection) -> Result<Vec<(String, String)>, Error> {
    let mut found = Vec::new();
    for section in sections::list(conn).await? {
        let of_section = lab_sessions::list(conn, section.id).await?;
        found.extend(of_section.into_iter().map(|session| {
            (
                session.held_on,
                session.id.to_string(),
                format!("{}, {} ({})", section.name, session.title, session.held_on),
            )
        }));
    }
    found.sort_by(|a, b| b.cmp(a));
    let none = (String::new(), "in no session".to_owned());
    Ok(std::iter::once(none).chain(found.into_iter().take(20).map(|(_, id, words)| (id, words))).collect())
}

/// What the form says.
fn read(state: &AppState, site: &Site, posted: &Posted) -> Result<NewSheetRun, FieldErrors> {
    let mut r = posted.reader();
    let (line, paper) = (r.id::<TrayLineId>("line"), r.id::<PaperId>("paper"));
    let session = if r.raw("session").is_empty() { Some(None) } else { r.id::<LabSessionId>("session").map(Some) };
    let what = r.choice("what", |word| match word {
        "test strip" => Some(SheetOf::TestStrip),
        "other" => Some(SheetOf::Other),
        _ => None,
    });
    let sheets = r.whole("sheets", 1..=1000);
    let mut side = |field| r.length(field, LengthUnit::Millimetre, 5.0, 2000.0).map(|(length, _)| length.as_mm());
    let (width, height) = (side("width"), side("height"));
    let at = r.local_time("happened_at", &site.zone);
    if at.is_some_and(|at| at > posted.at()) {
        r.wrong("happened_at", "must not lie in the future");
    }
    let new = || {
        let sheets = sheets?;
        Some(NewSheetRun {
            id: state.mint(),
            movement: state.mint(),
            site: site.id,
            lab_session: session?,
            tray_line: line?,
            paper: paper?,
            what: what?,
            student: None,
            sheets,
            area_mm2: ((width? * height? * sheets as f64).round() as i64).max(1),
            developed_at: at?,
        })
    };
    let new = new();
    r.finish(new)
}

async fn create(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let site = sites::find(&mut *state.store.read().await?).await?.ok_or(WebError::NotFound("the site"))?;
    let run = match read(&state, &site, &posted) {
        Ok(run) => run,
        Err(errors) => return show_with(&state, frame, Some(Form::refused(&posted, errors)), &[]).await,
    };
    let (actor, now) = (posted.actor(), posted.at());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                if let Some(session) = run.lab_session {
                    lab_sessions::find(tx, session).await?.ok_or(WriteError::Missing("this session"))?;
                }
                sheet_runs::record(tx, actor, &run, now).await?;
                let detail = format!("{} sheets", run.sheets);
                change_log::insert(tx, now, actor, "sheets recorded", "sheet_run", run.id, &detail).await?;
                Ok("/front/chemistry".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => show_with(&state, frame, Some(Form::refused(&posted, errors)), &[]).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Books every sheet that could not be booked and can be now: because somebody set a fixer in with the
/// time it really stood there, or because the container that had left is back.
async fn look_again(State(state): State<AppState>, posted: Posted) -> Result<Response, WebError> {
    let (actor, now, minting) = (posted.actor(), posted.at(), state.clone());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let mut booked = 0;
                for run in sheet_runs::list_unbooked(tx).await? {
                    let ids = (minting.mint(), minting.mint());
                    if sheet_runs::book_anew(tx, actor, run.id, ids, now).await? {
                        let detail = "their fixer was found after all";
                        change_log::insert(tx, now, actor, "sheets booked", "sheet_run", ids.0, detail).await?;
                        booked += 1;
                    }
                }
                if booked == 0 {
                    let words = "no fixer stood in the line at the time of any of these sheets, or it has left: set it in \
                                 with the time it really stood there";
                    return Err(FieldErrors::whole(words).into());
                }
                Ok("/front/chemistry".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

async fn take_back(
    State(state): State<AppState>,
    Path(id): Path<SheetRunId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (actor, now, movement) = (posted.actor(), posted.at(), state.mint());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let run = sheet_runs::find(tx, id).await?.ok_or(WriteError::Missing("these sheets"))?;
                if !matches!(run.what, SheetOf::TestStrip | SheetOf::Other) {
                    let words = "a negative or a print is corrected on its own page";
                    return Err(FieldErrors::whole(words).into());
                }
                sheet_runs::undo(tx, actor, id, movement, now, "taken back by staff").await?;
                change_log::insert(tx, now, actor, "sheets taken back", "sheet_run", id, "").await?;
                Ok("/front/chemistry".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// What becomes of the silver of sheets whose fixer has left: a word of the form, or a container's id.
fn read_decision(word: &str) -> Option<Decision> {
    match word {
        "went" => Some(Decision::WentWithContainer),
        "found" => Some(Decision::FoundByReading),
        id => id.parse().ok().map(Decision::BookedInto),
    }
}

/// The instructor decides about sheets that wait.
async fn decide(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let mut r = posted.reader();
    let (runs, decision) = (posted.get("run").to_owned(), r.choice("decision", read_decision));
    let run: Option<Option<SheetRunId>> = if runs == "all" { Some(None) } else { r.id("run").map(Some) };
    let (run, decision) = match r.finish(run.zip(decision)) {
        Ok(read) => read,
        Err(errors) => return super::show_with(&state, frame, Some(("decide", Form::refused(&posted, errors)))).await,
    };
    let (actor, now, minting) = (posted.actor(), posted.at(), state.clone());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let waiting = sheet_runs::list_waiting(tx).await?.into_iter().map(|run| run.id);
                let chosen: Vec<SheetRunId> = waiting.filter(|id| run.is_none_or(|run| run == *id)).collect();
                if chosen.is_empty() {
                    return Err(FieldErrors::one("run", "waits for no decision any more").into());
                }
                for id in chosen {
                    sheet_runs::decide(tx, actor, id, minting.mint(), decision, now).await?;
                    change_log::insert(tx, now, actor, "sheets decided on", "sheet_run", id, decision.as_str()).await?;
                }
                Ok("/front/chemistry".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            super::show_with(&state, frame, Some(("decide", Form::refused(&posted, errors)))).await
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
