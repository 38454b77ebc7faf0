//! Sheets on their way through the evening.

use sqlx::SqliteConnection;

use crate::domain::{
    evening::sheet_way::{Place, SheetWay},
    ids::{CameraId, ExposureId, LabSessionId, SheetWayId},
    instant::Instant,
};

use crate::store::Error;

struct SheetWayRow {
    id: SheetWayId,
    lab_session_id: LabSessionId,
    camera_id: CameraId,
    place: String,
    since_at: Instant,
    begun_at: Instant,
    exposure_id: Option<ExposureId>,
    version: i64,
}

impl TryFrom<SheetWayRow> for SheetWay {
    type Error = Error;
    fn try_from(row: SheetWayRow) -> Result<Self, Error> {
        let wrong = || Error::Inconsistent { table: "sheet_way", column: "place", id: row.id.to_string() };
        Ok(Self {
            id: row.id,
            session: row.lab_session_id,
            camera: row.camera_id,
            place: Place::from_words(&row.place).ok_or_else(wrong)?,
            since: row.since_at,
            begun: row.begun_at,
            exposure: row.exposure_id,
            version: row.version,
        })
    }
}

/// The sheets of a session that are on their way now, the one begun first first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<SheetWay>, Error> {
    let rows = sqlx::query_as!(
        SheetWayRow,
        "SELECT id, lab_session_id, camera_id, place, since_at, begun_at, exposure_id, version
         FROM sheet_way WHERE lab_session_id = ? AND ended_at IS NULL ORDER BY begun_at, id",
        session
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(SheetWay::try_from).collect()
}

/// One sheet on its way; none when its way has ended.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: SheetWayId) -> Result<Option<SheetWay>, Error> {
    let row = sqlx::query_as!(
        SheetWayRow,
        "SELECT id, lab_session_id, camera_id, place, since_at, begun_at, exposure_id, version
         FROM sheet_way WHERE id = ? AND ended_at IS NULL",
        id
    )
    .fetch_optional(conn)
    .await?;
    row.map(SheetWay::try_from).transpose()
}

/// Begins a sheet's way, in the dark room.
///
/// # Errors
/// [`Error::Constraint`] when the camera holds another sheet.
pub async fn insert(
    tx: &mut SqliteConnection,
    id: SheetWayId,
    session: LabSessionId,
    camera: CameraId,
    at: Instant,
) -> Result<(), Error> {
    let place = Place::Loading.as_str();
    sqlx::query!(
        "INSERT INTO sheet_way (id, lab_session_id, camera_id, place, since_at, begun_at) VALUES (?, ?, ?, ?, ?, ?)",
        id,
        session,
        camera,
        place,
        at,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Moves a sheet on.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_place(tx: &mut SqliteConnection, id: SheetWayId, place: Place, at: Instant) -> Result<(), Error> {
    let place = place.as_str();
    sqlx::query!(
        "UPDATE sheet_way SET place = ?1, since_at = max(?2, begun_at), version = version + 1 WHERE id = ?3",
        place,
        at,
        id
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Ends a sheet's way: given up.
///
/// # Errors
/// When the database cannot be used.
pub async fn end(tx: &mut SqliteConnection, id: SheetWayId, at: Instant) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE sheet_way SET ended_at = max(?1, begun_at), version = version + 1 WHERE id = ?2 AND ended_at IS NULL",
        at,
        id
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The session closes: every way ends.
///
/// # Errors
/// When the database cannot be used.
pub async fn end_all(tx: &mut SqliteConnection, session: LabSessionId, at: Instant) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE sheet_way SET ended_at = max(?1, begun_at), version = version + 1
         WHERE lab_session_id = ?2 AND ended_at IS NULL",
        at,
        session
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// A sheet was recorded: the camera's sheet that has been on its way longest without a record is
/// taken to be this one. It still has its way to go unless it is judged, which [`end_judged`] sees to.
///
/// # Errors
/// When the database cannot be used.
pub async fn note_exposure(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    camera: CameraId,
    exposure: ExposureId,
) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE sheet_way SET exposure_id = ?1, version = version + 1
         WHERE id = (SELECT id FROM sheet_way
                     WHERE lab_session_id = ?2 AND camera_id = ?3 AND ended_at IS NULL AND exposure_id IS NULL
                     ORDER BY begun_at, id LIMIT 1)",
        exposure,
        session,
        camera
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// A sheet was judged: its way ends.
///
/// # Errors
/// When the database cannot be used.
pub async fn end_judged(tx: &mut SqliteConnection, exposure: ExposureId, at: Instant) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE sheet_way SET ended_at = max(?1, begun_at), version = version + 1
         WHERE exposure_id = ?2 AND ended_at IS NULL",
        at,
        exposure
    )
    .execute(tx)
    .await?;
    Ok(())
}
