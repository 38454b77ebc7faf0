//! Taking a pile in: all of its cards in one write, or none.

use std::collections::{HashMap, hash_map::Entry};

use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::lab::exposure::{
    cards::{ReadySheet, record},
    recording::{Ready, Recording},
};
use crate::{
    domain::{
        camera::hole::Hole,
        field_errors::FieldErrors,
        ids::{CameraId, LabSessionId, PersonId},
        instant::Instant,
        people::actor::Actor,
        stock::paper::Paper,
    },
    lab::{baths::through_trays::TrayIds, exposure::at_hand::Learned},
    store::{
        WriteError,
        camera::{films, holes},
        people::change_log,
        stock::papers,
    },
    web::{
        fields::card_pile::{
            Around,
            pile::{Pile, read},
            rows_of, wants_more,
        },
        kit::{access::Staff, error::WebError, form::Form, frame::Frame, page::see_other, state::AppState},
        request::posted::Posted,
    },
};

use super::page::{Evening, page};

/// Records every card of the pile, or none of them.
pub async fn save(
    State(state): State<AppState>,
    frame: Frame,
    staff: Staff,
    Path(id): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let evening = Evening::load(&mut conn, id).await?.ok_or(WebError::NotFound("this session"))?;
    let around = &evening.around;
    let rows = rows_of(&posted);
    if wants_more(&posted) {
        // nothing is read yet: what was typed comes back with more rows under it
        return Ok(page(frame, &evening, Form::refused(&posted, FieldErrors::none()), rows).into_response());
    }
    let prepared = match read(&posted, around) {
        Ok(pile) => Ok(prepare(&state, &mut conn, around, pile, &staff, posted.at()).await?),
        Err(errors) => Err(errors),
    };
    drop(conn);
    let (session, site) = (around.session.clone(), evening.site);
    let (actor, at, by) = (staff.actor(), posted.at(), PersonId::from(staff.account));
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            // refused only here, so that a pile sent twice is answered by its receipt first
            let Prepared { holes, films, sheets } = prepared?;
            for (camera, film) in films {
                films::put_in(tx, camera, film.id, at, by).await?;
                let detail = film.name;
                change_log::insert(tx, at, actor, "film put in", "camera", camera, &detail).await?;
            }
            for hole in holes.values() {
                insert_hole(tx, hole, actor, at).await?;
            }
            let (first, last) = record(tx, &session, site, actor, sheets).await?;
            Ok(format!("/front/sessions/{id}/filled-cards?first={first}&last={last}"))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            Ok(page(frame, &evening, Form::refused(&posted, errors), rows).unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// A pile with its forecasts, ready to be stored.
struct Prepared {
    holes: HashMap<CameraId, Hole>,
    films: HashMap<CameraId, Paper>,
    sheets: Vec<ReadySheet>,
}

/// Works out the forecast of every card: the slow part, done before the write.
async fn prepare(
    state: &AppState,
    conn: &mut sqlx::SqliteConnection,
    around: &Around,
    pile: Pile,
    staff: &Staff,
    at: Instant,
) -> Result<Prepared, WebError> {
    let by = PersonId::from(staff.account);
    let holes = measured(state, &pile, by);
    let films = named_films(conn, &pile).await?;
    let mut made_with: HashMap<CameraId, Ready> = HashMap::new();
    let mut sheets = Vec::with_capacity(pile.cards.len());
    for card in pile.cards {
        let ready = match made_with.entry(card.camera) {
            Entry::Occupied(place) => place.into_mut(),
            Entry::Vacant(place) => {
                let (camera, known) = camera_of(around, card.camera)?;
                let hole = holes.get(&card.camera).or(known.as_ref());
                let hole = hole.ok_or_else(|| WebError::Ours("a card without a hole passed its reading".to_owned()))?;
                let loaded = around.loaded.get(&card.camera).or_else(|| films.get(&card.camera));
                let loaded =
                    loaded.ok_or_else(|| WebError::Ours("a card without its film passed its reading".to_owned()))?;
                let learned = Learned::load(conn, &around.session, loaded, camera, Some(hole)).await?;
                let session = around.session.clone();
                place.insert(Ready { session, camera: camera.clone(), hole: hole.id, learned })
            }
        };
        // what stood on the card, if anything, was printed at some other moment
        let recording = Recording { id: state.mint(), student: Some(card.student), shown: Vec::new(), by, at };
        let sheet = ready.prepare(card.told, recording);
        sheets.push(ReadySheet { row: card.row, sheet, ids: TrayIds::mint(&state.world) });
    }
    Ok(Prepared { holes, films, sheets })
}

/// The films that the pile names for body caps.
async fn named_films(conn: &mut sqlx::SqliteConnection, pile: &Pile) -> Result<HashMap<CameraId, Paper>, WebError> {
    let mut films = HashMap::new();
    for (camera, film) in &pile.films {
        let film = papers::find(conn, *film).await?;
        films.insert(*camera, film.ok_or_else(|| WebError::Ours("a film that was offered is gone".to_owned()))?);
    }
    Ok(films)
}

type CameraWithHole = (crate::domain::camera::Camera, Option<Hole>);

fn camera_of(around: &Around, id: CameraId) -> Result<&CameraWithHole, WebError> {
    let found = around.cameras.iter().find(|(camera, _)| camera.id == id);
    found.ok_or_else(|| WebError::Ours("a card names a camera that was not looked up".to_owned()))
}

/// The holes that the pile gives, ready to be stored.
fn measured(state: &AppState, pile: &Pile, by: PersonId) -> HashMap<CameraId, Hole> {
    let hole =
        |(camera, (measurement, measured_at)): (&CameraId, &(crate::domain::camera::hole::Measurement, Instant))| {
            let hole = Hole {
                id: state.mint(),
                camera: *camera,
                measurement: measurement.clone(),
                plate: None,
                remark: String::new(),
                measured_at: *measured_at,
                recorded_by: by,
                version: 1,
            };
            (*camera, hole)
        };
    pile.holes.iter().map(hole).collect()
}

async fn insert_hole(
    tx: &mut sqlx::SqliteConnection,
    hole: &Hole,
    actor: Actor,
    at: Instant,
) -> Result<(), WriteError> {
    // somebody may have measured it while the pile was typed: the newest counts, both stand
    holes::insert(tx, hole).await?;
    change_log::insert(tx, at, actor, "hole typed in from a card", "hole", hole.id, "").await?;
    Ok(())
}
