//! Holes as measured.

use sqlx::SqliteConnection;

use crate::domain::{
    camera::{
        Typed,
        hole::{Hole, Measurement},
    },
    ids::{CameraId, HoleId, PersonId},
    instant::Instant,
    measure::length::Length,
};

use crate::store::Error;

struct HoleRow {
    id: HoleId,
    camera_id: CameraId,
    instrument_nm: i64,
    instrument_typed: String,
    plate_nm: Option<i64>,
    plate_typed: Option<String>,
    remark: String,
    measured_at: Instant,
    recorded_by: PersonId,
    version: i64,
}

async fn with_readings(conn: &mut SqliteConnection, row: HoleRow) -> Result<Hole, Error> {
    let readings =
        sqlx::query!("SELECT diameter_nm, typed FROM hole_reading WHERE hole_id = ? ORDER BY ordinal", row.id)
            .fetch_all(conn)
            .await?
            .into_iter()
            .map(|reading| Typed { length: Length::from_nm(reading.diameter_nm), typed: reading.typed })
            .collect();
    let instrument = Typed { length: Length::from_nm(row.instrument_nm), typed: row.instrument_typed };
    let measurement = Measurement::of(readings, instrument).map_err(|_| Error::Inconsistent {
        table: "hole_reading",
        column: "diameter_nm",
        id: row.id.to_string(),
    })?;
    Ok(Hole {
        id: row.id,
        camera: row.camera_id,
        measurement,
        plate: row.plate_nm.zip(row.plate_typed).map(|(nm, typed)| Typed { length: Length::from_nm(nm), typed }),
        remark: row.remark,
        measured_at: row.measured_at,
        recorded_by: row.recorded_by,
        version: row.version,
    })
}

/// One hole.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: HoleId) -> Result<Option<Hole>, Error> {
    let row = sqlx::query_as!(
        HoleRow,
        "SELECT id, camera_id, instrument_nm, instrument_typed, plate_nm, plate_typed, remark, measured_at,
             recorded_by, version
         FROM hole WHERE id = ?",
        id
    )
    .fetch_optional(&mut *conn)
    .await?;
    match row {
        Some(row) => with_readings(conn, row).await.map(Some),
        None => Ok(None),
    }
}

/// The hole that counts: a camera's newest.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_latest(conn: &mut SqliteConnection, camera: CameraId) -> Result<Option<Hole>, Error> {
    let row = sqlx::query_as!(
        HoleRow,
        "SELECT id, camera_id, instrument_nm, instrument_typed, plate_nm, plate_typed, remark, measured_at,
             recorded_by, version
         FROM hole WHERE camera_id = ? ORDER BY measured_at DESC, id DESC LIMIT 1",
        camera
    )
    .fetch_optional(&mut *conn)
    .await?;
    match row {
        Some(row) => with_readings(conn, row).await.map(Some),
        None => Ok(None),
    }
}

/// All holes measured in a camera, the newest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_camera(conn: &mut SqliteConnection, camera: CameraId) -> Result<Vec<Hole>, Error> {
    let rows = sqlx::query_as!(
        HoleRow,
        "SELECT id, camera_id, instrument_nm, instrument_typed, plate_nm, plate_typed, remark, measured_at,
             recorded_by, version
         FROM hole WHERE camera_id = ? ORDER BY measured_at DESC, id DESC",
        camera
    )
    .fetch_all(&mut *conn)
    .await?;
    let mut holes = Vec::with_capacity(rows.len());
    for row in rows {
        holes.push(with_readings(conn, row).await?);
    }
    Ok(holes)
}

/// What a measurement gives, in columns: diameter, uncertainty, ovalness, instrument.
fn columns(measurement: &Measurement) -> (i64, i64, i64, i64) {
    let result = measurement.result();
    (
        measurement.diameter().as_nm(),
        Length::from_mm(result.uncertainty_mm).as_nm(),
        (result.ovalness * 1000.0).round() as i64,
        measurement.instrument().length.as_nm(),
    )
}

/// The plate's thickness in columns: nanometres, as typed.
fn plate_columns(hole: &Hole) -> (Option<i64>, Option<&str>) {
    (hole.plate.as_ref().map(|plate| plate.length.as_nm()), hole.plate.as_ref().map(|plate| plate.typed.as_str()))
}

async fn insert_readings(tx: &mut SqliteConnection, hole: &Hole) -> Result<(), Error> {
    for (ordinal, reading) in (1_i64..).zip(hole.measurement.readings()) {
        let diameter = reading.length.as_nm();
        sqlx::query!(
            "INSERT INTO hole_reading (hole_id, ordinal, diameter_nm, typed) VALUES (?, ?, ?, ?)",
            hole.id,
            ordinal,
            diameter,
            reading.typed
        )
        .execute(&mut *tx)
        .await?;
    }
    Ok(())
}

/// Stores a hole as measured.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, hole: &Hole) -> Result<(), Error> {
    let (diameter, uncertainty, ovalness, instrument) = columns(&hole.measurement);
    let instrument_typed = hole.measurement.instrument().typed.as_str();
    let (plate, plate_typed) = plate_columns(hole);
    sqlx::query!(
        "INSERT INTO hole (id, camera_id, diameter_nm, uncertainty_nm, ovalness_milli, instrument_nm,
             instrument_typed, plate_nm, plate_typed, remark, measured_at, recorded_by)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        hole.id,
        hole.camera,
        diameter,
        uncertainty,
        ovalness,
        instrument,
        instrument_typed,
        plate,
        plate_typed,
        hole.remark,
        hole.measured_at,
        hole.recorded_by
    )
    .execute(&mut *tx)
    .await?;
    insert_readings(tx, hole).await
}

/// Stores an edited hole if its version still stands; gives whether it did. Camera, moment and
/// recorder stay.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, hole: &Hole) -> Result<bool, Error> {
    let (diameter, uncertainty, ovalness, instrument) = columns(&hole.measurement);
    let instrument_typed = hole.measurement.instrument().typed.as_str();
    let (plate, plate_typed) = plate_columns(hole);
    let done = sqlx::query!(
        "UPDATE hole SET diameter_nm = ?, uncertainty_nm = ?, ovalness_milli = ?, instrument_nm = ?,
             instrument_typed = ?, plate_nm = ?, plate_typed = ?, remark = ?, version = version + 1
         WHERE id = ? AND version = ?",
        diameter,
        uncertainty,
        ovalness,
        instrument,
        instrument_typed,
        plate,
        plate_typed,
        hole.remark,
        hole.id,
        hole.version
    )
    .execute(&mut *tx)
    .await?;
    if done.rows_affected() != 1 {
        return Ok(false);
    }
    sqlx::query!("DELETE FROM hole_reading WHERE hole_id = ?", hole.id).execute(&mut *tx).await?;
    insert_readings(tx, hole).await?;
    Ok(true)
}
