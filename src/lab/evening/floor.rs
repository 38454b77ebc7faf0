//! What staff does from the floor: says something to all benches, answers a call, keeps the dark room's door.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::{announcement::Announcement, lab_session::LabSession, sheet_way::Place},
        ids::{HelpCallId, LabSessionId, PersonId, SheetWayId},
        instant::Instant,
        people::actor::Actor,
    },
    store::{
        WriteError,
        camera::cameras,
        evening::{announcements, help_calls, lab_sessions, sheet_ways},
        people::change_log,
    },
};

async fn session_of(tx: &mut SqliteConnection, id: LabSessionId) -> Result<LabSession, WriteError> {
    lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("this session"))
}

/// Says something to all benches, in the place of what was said before.
///
/// # Errors
/// Missing when there is no such session.
pub async fn say(
    tx: &mut SqliteConnection,
    id: LabSessionId,
    said: &Announcement,
    (actor, by): (Actor, PersonId),
    at: Instant,
) -> Result<(), WriteError> {
    session_of(tx, id).await?;
    announcements::insert(tx, id, said, by).await?;
    change_log::insert(tx, at, actor, "said to all benches", "announcement", said.id, "").await?;
    Ok(())
}

/// Takes down what was said.
///
/// # Errors
/// Missing when there is no such session.
pub async fn unsay(tx: &mut SqliteConnection, id: LabSessionId, at: Instant) -> Result<(), WriteError> {
    session_of(tx, id).await?;
    announcements::end(tx, id, at).await?;
    Ok(())
}

/// Somebody went to the student who called. Answered by another meanwhile, it is as it was wanted.
///
/// # Errors
/// Missing when there is no such session.
pub async fn answer_call(
    tx: &mut SqliteConnection,
    id: LabSessionId,
    call: HelpCallId,
    (actor, by): (Actor, PersonId),
    at: Instant,
) -> Result<(), WriteError> {
    session_of(tx, id).await?;
    if help_calls::end(tx, call, by, at).await? {
        change_log::insert(tx, at, actor, "call for help answered", "help_call", call, "").await?;
    }
    Ok(())
}

/// Moves a sheet on, or ends its way where `to` names no place. Nothing happens when its way ended, or its students
/// moved it on, meanwhile.
///
/// # Errors
/// When the database cannot be used.
pub async fn move_sheet(
    tx: &mut SqliteConnection,
    id: LabSessionId,
    way: SheetWayId,
    to: Option<Place>,
    actor: Actor,
    at: Instant,
) -> Result<(), WriteError> {
    let found = sheet_ways::find(tx, way).await?.filter(|found| found.session == id);
    let Some(found) = found else { return Ok(()) };
    match to {
        Some(place) if place > found.place => sheet_ways::update_place(tx, way, place, at).await?,
        Some(_) => return Ok(()),
        None => sheet_ways::end(tx, way, at).await?,
    }
    let camera = cameras::find(tx, found.camera).await?.map_or(0, |camera| camera.number);
    let detail = format!("camera {camera}: {}", to.map_or("its way ended", Place::as_str));
    change_log::insert(tx, at, actor, "sheet moved", "sheet_way", way, &detail).await?;
    Ok(())
}
