//! `/bench/exposures/pile`: several cards of one's own camera, typed in afterwards, one row a sheet, all of
//! them or none.

use std::collections::HashMap;

use askama::Template;
use axum::{
    extract::{Query, State},
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::lab::exposure::{
    cards::{self, ReadySheet},
    recording::{self, Ready, Recording},
};
use crate::{
    domain::{
        evening::lab_session::LabSession, exposure::Exposure, field_errors::FieldErrors, ids::PersonId,
        people::student::Student,
    },
    lab::{
        baths::through_trays::TrayIds,
        exposure::at_hand::{AtHand, Learned},
    },
    store::{WriteError, camera::cameras, exposure::exposures, people::students},
    web::{
        bench::at_bench::{Saved, last_saved},
        fields::card_pile::{
            Around, ROWS, Typist,
            grid::{CardGrid, CardWords, held_on},
            pile::read,
            rows_of,
            sheets::SessionSheets,
            taken::Taken,
            wants_more,
        },
        kit::{
            access::Bench,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            state::AppState,
        },
        request::posted::Posted,
    },
};

/// The hidden field with the session whose date the rows were typed for.
const OF_SESSION: &str = "of_session";
/// The hidden field with the number of the camera they were typed for.
const OF_CAMERA: &str = "of_camera";

#[derive(Template)]
#[template(path = "bench/card_pile.html")]
struct PilePage {
    frame: Frame,
    saved: Saved,
    /// Which sheets were just taken in; empty when none were.
    recorded: String,
    /// The camera's number, zero without a camera.
    camera: i64,
    measured: bool,
    needs_film: bool,
    /// The session with its rows; `None` when none was ever opened.
    evening: Option<EveningView>,
}

/// The session, the rows that can be filled for it, and what it has.
struct EveningView {
    /// The session and the camera that the rows are typed for.
    of: (String, String),
    title: String,
    held_on: String,
    open: bool,
    no_fixer: bool,
    words: CardWords,
    /// The rows, where sheets can be recorded.
    form: Option<(Form, CardGrid)>,
    sheets: SessionSheets,
}

/// Empty rows.
pub async fn show(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    Query(taken): Query<Taken>,
) -> Result<Response, WebError> {
    Ok(page(&state, frame, &bench, &taken, None).await?.into_response())
}

/// The page; with the form as it was sent, and its number of rows.
async fn page(
    state: &AppState,
    frame: Frame,
    bench: &Bench,
    taken: &Taken,
    sent: Option<(Form, usize)>,
) -> Result<Page<impl Template>, WebError> {
    let mut conn = state.store.read().await?;
    let at_hand = AtHand::load(&mut conn, bench.section, bench.student).await?;
    let all = exposures::list_of_student(&mut conn, bench.student).await?;
    let around = around(&mut conn, bench, &at_hand).await?;
    let size = all.first().map_or_else(|| at_hand.film_size(bench.inches), |sheet| sheet.sheet.typed.clone());
    let recordable = at_hand.open_session().is_some() && at_hand.hole.is_some() && at_hand.loaded.is_some();
    // what was refused is shown again even where no sheet can be recorded any more
    let form = sent.or_else(|| recordable.then(|| (Form::filled(&frame, 0, [("sheet", size)]), ROWS)));
    let (mut recorded, mut evening) = (String::new(), None);
    if let Some(around) = around {
        let sheets: Vec<Exposure> = all.into_iter().filter(|sheet| sheet.session == around.session.id).collect();
        recorded = taken.words(&sheets);
        evening = Some(EveningView {
            of: typed_for(form.as_ref().map(|(form, _)| form), &around),
            title: around.session.title.clone(),
            held_on: held_on(&around),
            open: around.session.state.is_open(),
            no_fixer: around.has_trays && !at_hand.fixer_stands,
            words: CardWords::of(&around, Vec::new()),
            form: form.map(|(form, rows)| {
                let grid = CardGrid::of(&form, &around, rows);
                (form, grid)
            }),
            sheets: SessionSheets::of(&around, &sheets, |id| format!("/bench/exposures/{id}")),
        });
    }
    Ok(Page::new(PilePage {
        saved: last_saved(&mut conn, bench.actor(), state.now()).await?,
        recorded,
        camera: at_hand.camera.as_ref().map_or(0, |camera| camera.number),
        measured: at_hand.hole.is_some(),
        needs_film: at_hand.needs_film(),
        evening,
        frame,
    }))
}

/// The session and the camera that rows are typed for: those at hand, unless rows were typed for others and
/// nobody has been told yet.
fn typed_for(form: Option<&Form>, around: &Around) -> (String, String) {
    match form {
        Some(form) if !form.is_refused() && !form.value(OF_SESSION).is_empty() => {
            (form.value(OF_SESSION).to_owned(), form.value(OF_CAMERA).to_owned())
        }
        _ => {
            let camera = around.cameras.first().map_or_else(String::new, |(camera, _)| camera.number.to_string());
            (around.session.id.to_string(), camera)
        }
    }
}

/// What a pile of this student is read against; `None` without a session.
async fn around(
    conn: &mut SqliteConnection,
    bench: &Bench,
    at_hand: &AtHand,
) -> Result<Option<Around>, crate::store::Error> {
    let Some((session, _)) = &at_hand.evening else { return Ok(None) };
    let mut loaded = HashMap::new();
    let students: Vec<Student> = match &at_hand.camera {
        Some(camera) => {
            loaded.extend(at_hand.loaded.clone().map(|paper| (camera.id, paper)));
            cameras::students_of(conn, camera.id).await?
        }
        None => students::find(conn, bench.student).await?.into_iter().collect(),
    };
    Ok(Some(Around {
        typist: Typist::Partner,
        session: session.clone(),
        zone: at_hand.zone.clone(),
        cameras: at_hand.camera.clone().map(|camera| (camera, at_hand.hole.clone())).into_iter().collect(),
        loaded,
        films: Vec::new(),
        students,
        has_trays: at_hand.uses_trays(),
    }))
}

/// Records every card of the pile, or none of them.
pub async fn save(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let (rows, nothing) = (rows_of(&posted), Taken::default());
    if wants_more(&posted) {
        // nothing is read yet: what was typed comes back with more rows under it
        let form = Form::refused(&posted, FieldErrors::none());
        return Ok(page(&state, frame, &bench, &nothing, Some((form, rows))).await?.into_response());
    }
    let mut conn = state.store.read().await?;
    let at_hand = AtHand::load(&mut conn, bench.section, bench.student).await?;
    let learned = at_hand.learned(&mut conn).await?;
    let around = around(&mut conn, &bench, &at_hand).await?;
    drop(conn);
    let around = around.ok_or(WebError::Forbidden("ask for a session to be opened first"))?;
    let (site, session) = (at_hand.site, around.session.clone());
    let prepared = prepare(&state, &bench, &posted, at_hand, &around, learned);
    let (actor, student) = (bench.actor(), bench.student);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a form sent twice is answered by its receipt first
            let sheets = prepared?;
            let session = recording::still_open(tx, session.id).await?;
            for ReadySheet { row, sheet, .. } in &sheets {
                let holders = recording::still_held(tx, sheet.camera(), student).await?;
                if !holders.iter().any(|holder| Some(*holder) == sheet.student()) {
                    let message = format!("Card {row}: has put the camera down since this page was opened");
                    return Err(FieldErrors::one(format!("student_{row}"), message).into());
                }
            }
            let (first, last) = cards::record(tx, &session, site, actor, sheets).await?;
            Ok(format!("/bench/exposures/pile?first={first}&last={last}"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let form = Form::refused(&posted, errors);
            Ok(page(&state, frame, &bench, &nothing, Some((form, rows))).await?.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Reads the rows against what the student has at hand, and works out each forecast.
fn prepare(
    state: &AppState,
    bench: &Bench,
    posted: &Posted,
    at_hand: AtHand,
    around: &Around,
    learned: Option<Learned>,
) -> Result<Vec<ReadySheet>, FieldErrors> {
    let Some(camera) = &at_hand.camera else {
        return Err(FieldErrors::whole("register your camera first, or share your partner’s"));
    };
    same_evening(posted, &around.session, camera.number, &held_on(around))?;
    let ready = Ready::of(at_hand, learned)?;
    let pile = read(posted, around)?;
    let sheets = pile.cards.into_iter().map(|card| {
        // what stood on the card, if anything, was printed at some other moment
        let (id, shown, by) = (state.mint(), Vec::new(), PersonId::from(bench.student));
        let recording = Recording { id, student: Some(card.student), shown, by, at: posted.at() };
        ReadySheet { row: card.row, sheet: ready.prepare(card.told, recording), ids: TrayIds::mint(&state.world) }
    });
    Ok(sheets.collect())
}

/// The rows say neither their date nor their camera: both must still be those that stood above them.
fn same_evening(posted: &Posted, session: &LabSession, camera: i64, held_on: &str) -> Result<(), FieldErrors> {
    let now = if posted.get(OF_SESSION) != session.id.to_string() {
        format!("“{}” is the session now, and its date is {held_on}", session.title)
    } else if posted.get(OF_CAMERA) != camera.to_string() {
        format!("your camera is camera {camera} now")
    } else {
        return Ok(());
    };
    Err(FieldErrors::whole(format!("{now}: these cards would be taken for it. Send them again only if that is right")))
}
