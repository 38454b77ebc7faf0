//! Waste containers taken away, and discharges under somebody's authority.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{ContainerId, MovementId, RemovalId},
    instant::Instant,
    waste::{discharge::Discharge, removal::Removal},
};

use crate::store::Error;

struct RemovalRow {
    id: RemovalId,
    movement_id: MovementId,
    container_id: ContainerId,
    carrier: String,
    destination: String,
    reference: String,
    mass_g: Option<i64>,
    removed_at: Instant,
    to_reclaim_silver: i64,
    copy_returned_on: Option<String>,
    undone_at: Option<Instant>,
    version: i64,
}

impl TryFrom<RemovalRow> for Removal {
    type Error = Error;
    fn try_from(row: RemovalRow) -> Result<Self, Error> {
        let wrong = || Error::Inconsistent { table: "removal", column: "copy_returned_on", id: row.id.to_string() };
        Ok(Self {
            id: row.id,
            movement: row.movement_id,
            container: row.container_id,
            carrier: row.carrier,
            destination: row.destination,
            reference: row.reference,
            mass_g: row.mass_g,
            removed_at: row.removed_at,
            to_reclaim_silver: row.to_reclaim_silver != 0,
            copy_returned_on: row.copy_returned_on.as_deref().map(str::parse).transpose().map_err(|_| wrong())?,
            undone_at: row.undone_at,
            version: row.version,
        })
    }
}

/// All removals, oldest first, those taken back among them.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Removal>, Error> {
    let rows = sqlx::query_as!(
        RemovalRow,
        "SELECT id, movement_id, container_id, carrier, destination, reference, mass_g, removed_at, to_reclaim_silver, copy_returned_on,
                undone_at, version
         FROM removal ORDER BY removed_at, id"
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Removal::try_from).collect()
}

/// The standing removal of a container.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_of(conn: &mut SqliteConnection, container: ContainerId) -> Result<Option<Removal>, Error> {
    let row = sqlx::query_as!(
        RemovalRow,
        "SELECT id, movement_id, container_id, carrier, destination, reference, mass_g, removed_at, to_reclaim_silver, copy_returned_on,
                undone_at, version
         FROM removal WHERE container_id = ? AND undone_at IS NULL",
        container
    )
    .fetch_optional(conn)
    .await?;
    row.map(Removal::try_from).transpose()
}

/// Stores a removal whose movement is booked.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn insert(tx: &mut SqliteConnection, removal: &Removal) -> Result<(), Error> {
    let to_reclaim = i64::from(removal.to_reclaim_silver);
    sqlx::query!(
        "INSERT INTO removal (id, movement_id, container_id, carrier, destination, reference, mass_g, removed_at,
             to_reclaim_silver)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        removal.id,
        removal.movement,
        removal.container,
        removal.carrier,
        removal.destination,
        removal.reference,
        removal.mass_g,
        removal.removed_at,
        to_reclaim
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Notes when the signed copy came back, if the version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_copy_returned(
    tx: &mut SqliteConnection,
    id: RemovalId,
    version: i64,
    on: jiff::civil::Date,
) -> Result<bool, Error> {
    let on = on.to_string();
    let done = sqlx::query!(
        "UPDATE removal SET copy_returned_on = ?, version = version + 1 WHERE id = ? AND version = ?",
        on,
        id,
        version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Marks the removal that caused a movement as taken back.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn update_undone(
    tx: &mut SqliteConnection,
    movement: MovementId,
    at: Instant,
) -> Result<(), Error> {
    sqlx::query!("UPDATE removal SET undone_at = ?, version = version + 1 WHERE movement_id = ?", at, movement)
        .execute(tx)
        .await?;
    Ok(())
}

/// Stores who allowed a booked discharge.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn insert_discharge(tx: &mut SqliteConnection, discharge: &Discharge) -> Result<(), Error> {
    let on = discharge.reference_on.map(|on| on.to_string());
    sqlx::query!(
        "INSERT INTO discharge (id, movement_id, authority, reference, reference_on) VALUES (?, ?, ?, ?, ?)",
        discharge.id,
        discharge.movement,
        discharge.authority,
        discharge.reference,
        on
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// All discharges, in the order they were written down, those taken back among them.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_discharges(conn: &mut SqliteConnection) -> Result<Vec<Discharge>, Error> {
    let rows = sqlx::query!("SELECT id, movement_id, authority, reference, reference_on FROM discharge ORDER BY id")
        .fetch_all(conn)
        .await?;
    rows.into_iter()
        .map(|row| {
            let wrong = || Error::Inconsistent { table: "discharge", column: "reference_on", id: row.id.to_string() };
            Ok(Discharge {
                id: row.id,
                movement: row.movement_id,
                authority: row.authority,
                reference: row.reference,
                reference_on: row.reference_on.as_deref().map(str::parse).transpose().map_err(|_| wrong())?,
            })
        })
        .collect()
}
