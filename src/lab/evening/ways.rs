//! What students do in the evening: a sheet begins its way and moves on; a call for help.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::{help_call::HelpCall, lab_session::LabSession, sheet_way::Place},
        field_errors::FieldErrors,
        ids::{SectionId, SheetWayId, StudentId},
        instant::Instant,
        people::actor::Actor,
    },
    store::{
        WriteError,
        camera::{cameras, holes},
        evening::{help_calls, lab_sessions, sheet_ways},
        people::change_log,
    },
};

async fn open_session(tx: &mut SqliteConnection, section: SectionId) -> Result<LabSession, WriteError> {
    let open = lab_sessions::find_open(tx, section).await?;
    open.ok_or_else(|| FieldErrors::whole("no session is open now").into())
}

/// A sheet begins its way.
///
/// # Errors
/// Refused while no session is open, without a camera with a measured hole, and while another sheet is in it.
pub async fn begin(
    tx: &mut SqliteConnection,
    id: SheetWayId,
    (section, student): (SectionId, StudentId),
    at: Instant,
) -> Result<(), WriteError> {
    let session = open_session(tx, section).await?;
    let camera = cameras::find_of_student(tx, student).await?;
    let camera = camera.ok_or_else(|| FieldErrors::whole("register your camera first"))?;
    if holes::find_latest(tx, camera.id).await?.is_none() {
        return Err(FieldErrors::whole("make the hole and measure it first").into());
    }
    let ways = sheet_ways::list(tx, session.id).await?;
    if ways.iter().any(|way| way.camera == camera.id && way.place != Place::InTheTrays) {
        return Err(FieldErrors::whole("your camera has a sheet in it already; move that one on first").into());
    }
    sheet_ways::insert(tx, id, session.id, camera.id, at).await?;
    change_log::insert(tx, at, Actor::Student(student), "sheet being loaded", "sheet_way", id, "").await?;
    Ok(())
}

/// A sheet goes on, or is given up where `to` names no place. Nothing happens when a partner, or whoever keeps the
/// door, was quicker.
///
/// # Errors
/// Missing when it is not of the student's camera.
pub async fn move_on(
    tx: &mut SqliteConnection,
    id: SheetWayId,
    to: Option<Place>,
    student: StudentId,
    at: Instant,
) -> Result<(), WriteError> {
    let camera = cameras::find_of_student(tx, student).await?.ok_or(WriteError::Missing("this sheet"))?;
    let way = sheet_ways::find(tx, id).await?.filter(|way| way.camera == camera.id);
    let way = way.ok_or(WriteError::Missing("this sheet"))?;
    match to {
        Some(place) if place <= way.place => return Ok(()),
        Some(place) => sheet_ways::update_place(tx, id, place, at).await?,
        None => sheet_ways::end(tx, id, at).await?,
    }
    let (what, detail) = to.map_or(("sheet given up", ""), |place| ("sheet moved on", place.as_str()));
    change_log::insert(tx, at, Actor::Student(student), what, "sheet_way", id, detail).await?;
    Ok(())
}

/// Calls for help, in the place of an earlier call.
///
/// # Errors
/// Refused while no session is open.
pub async fn call(tx: &mut SqliteConnection, section: SectionId, asked: &HelpCall) -> Result<(), WriteError> {
    let (student, at) = (asked.student, asked.called);
    let session = open_session(tx, section).await?;
    if let Some(earlier) = help_calls::find_of_student(tx, student).await? {
        help_calls::end(tx, earlier.id, student.into(), at).await?;
    }
    help_calls::insert(tx, asked, session.id).await?;
    change_log::insert(tx, at, Actor::Student(student), "called for help", "help_call", asked.id, "").await?;
    Ok(())
}

/// Takes a call back, if there is one.
///
/// # Errors
/// When the database cannot be used.
pub async fn end_call(tx: &mut SqliteConnection, student: StudentId, at: Instant) -> Result<(), WriteError> {
    if let Some(call) = help_calls::find_of_student(tx, student).await? {
        help_calls::end(tx, call.id, student.into(), at).await?;
        let actor = Actor::Student(student);
        change_log::insert(tx, at, actor, "call for help taken back", "help_call", call.id, "").await?;
    }
    Ok(())
}
