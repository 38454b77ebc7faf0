//! The dark room: who is in it, who is next; and the baths that stand in its trays.

use std::collections::HashMap;

use askama::Template;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        baths::{
            advice::Advice,
            batch::{Slot, Stay},
            condition::condition,
        },
        evening::{
            lab_session::LabSession,
            sheet_way::{DarkRoom, Place, SheetWay},
        },
        ids::{CameraId, SheetWayId},
        instant::Instant,
    },
    store::{
        baths::{batches, tray_lines, tray_slots},
        camera::cameras,
        evening::sheet_ways,
    },
    web::kit::{error::WebError, form::Form, frame::Frame},
};

use super::board::ago;

/// The dark room as staff sees it.
#[derive(Template)]
#[template(path = "front/floor_room.html")]
pub(super) struct Room {
    form: Form,
    session: LabSession,
    /// "2 of 4 places taken", or how many are in it where nobody entered the places.
    pub(super) taken: String,
    /// Whether nobody entered them.
    places_unknown: bool,
    pub(super) inside: Vec<Standing>,
    pub(super) waiting: Vec<Standing>,
}

/// A sheet in the dark room, or waiting for a place in it.
pub(super) struct Standing {
    id: SheetWayId,
    pub(super) camera: i64,
    pub(super) place: &'static str,
    pub(super) ago: String,
    /// Where the button sends it, and what the button says.
    onward: (&'static str, &'static str),
    /// Whether there is a place for it now.
    pub(super) may_come: bool,
}

/// The batches in the trays of the session.
#[derive(Template)]
#[template(path = "front/floor_baths.html")]
pub(super) struct Baths {
    pub(super) line: String,
    pub(super) baths: Vec<Bath>,
}

/// A batch in its tray, or a tray that waits for one.
pub(super) struct Bath {
    pub(super) slot: &'static str,
    /// Empty where nothing stands.
    pub(super) batch: String,
    pub(super) advice: &'static str,
    pub(super) why: String,
}

impl askama::filters::HtmlSafe for Room {}
impl askama::filters::HtmlSafe for Baths {}

/// Loads the dark room.
pub(super) async fn load(
    conn: &mut SqliteConnection,
    frame: &Frame,
    session: &LabSession,
    now: Instant,
) -> Result<Room, WebError> {
    let ways = sheet_ways::list(conn, session.id).await?;
    let places = match session.tray_line {
        Some(line) => tray_lines::find(conn, line).await?.and_then(|line| line.places),
        None => None,
    };
    let room = DarkRoom::of(&ways, places);
    let cameras = cameras::list_of_section(conn, session.section).await?;
    let numbers: HashMap<CameraId, i64> = cameras.iter().map(|camera| (camera.id, camera.number)).collect();
    let standing = |way: &SheetWay| Standing {
        id: way.id,
        camera: numbers.get(&way.camera).copied().unwrap_or_default(),
        place: way.place.as_str(),
        ago: ago(way.since, now),
        onward: match way.place {
            Place::Loading => (Place::Outside.as_str(), "went out"),
            Place::InTheTrays => ("ended", "came out"),
            Place::Outside | Place::Waiting => (Place::InTheTrays.as_str(), "came in"),
        },
        may_come: room.may_come().contains(&way.camera),
    };
    let mut waiting: Vec<&SheetWay> = ways.iter().filter(|way| way.place == Place::Waiting).collect();
    waiting.sort_by_key(|way| (way.since, way.id));
    Ok(Room {
        form: Form::empty(frame),
        session: session.clone(),
        taken: match room.places {
            Some(places) => format!("{} of {places} places taken", room.inside.len()),
            None => format!("{} in it", room.inside.len()),
        },
        places_unknown: room.places.is_none(),
        inside: ways.iter().filter(|way| way.place.in_the_dark()).map(standing).collect(),
        waiting: waiting.into_iter().map(standing).collect(),
    })
}

/// Loads the baths.
pub(super) async fn baths(conn: &mut SqliteConnection, session: &LabSession, now: Instant) -> Result<Baths, WebError> {
    let Some(line) = session.tray_line else { return Ok(Baths { line: String::new(), baths: Vec::new() }) };
    let name = tray_lines::find(conn, line).await?.map_or_else(String::new, |line| line.name);
    let mut baths = Vec::new();
    let standing = tray_slots::list_standing(conn, line, now).await?;
    for slot in Slot::ALL {
        let Some(Stay { batch, .. }) = standing.iter().find(|stay| stay.slot == slot) else {
            // a second fixer and a washing aid only where there is one; a stop bath may be water
            let advice = match slot {
                Slot::Developer | Slot::Fixer => Advice::Change,
                Slot::StopBath => Advice::Watch,
                Slot::SecondFixer | Slot::WashingAid => continue,
            };
            if !standing.is_empty() {
                let (batch, why) = (String::new(), String::new());
                baths.push(Bath { slot: slot.as_str(), batch, advice: advice.as_str(), why });
            }
            continue;
        };
        let Some(batch) = batches::find(conn, *batch).await? else { continue };
        let judged = condition(&batch, &batches::load(conn, batch.id).await?, now);
        baths.push(Bath {
            slot: slot.as_str(),
            batch: batch.name(),
            advice: judged.advice.as_str(),
            why: judged.reasons.join("; "),
        });
    }
    Ok(Baths { line: name, baths })
}
