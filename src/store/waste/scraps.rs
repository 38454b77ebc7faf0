//! Film and paper thrown into containers.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{ContainerId, MovementId, PaperId, ScrapId},
    waste::scrap::Scrap,
};

use crate::store::Error;

/// Stores scrap whose movement is booked.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn insert(tx: &mut SqliteConnection, scrap: &Scrap) -> Result<(), Error> {
    let processed = i64::from(scrap.processed);
    sqlx::query!(
        "INSERT INTO scrap (id, movement_id, container_id, paper_id, processed, sheets, area_mm2, mass_g)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        scrap.id,
        scrap.movement,
        scrap.container,
        scrap.paper,
        processed,
        scrap.sheets,
        scrap.area_mm2,
        scrap.mass_g
    )
    .execute(tx)
    .await?;
    Ok(())
}

struct ScrapRow {
    id: ScrapId,
    movement_id: MovementId,
    container_id: ContainerId,
    paper_id: PaperId,
    processed: i64,
    sheets: i64,
    area_mm2: i64,
    mass_g: Option<i64>,
}

/// All scrap, those taken back among it, by the movement it caused.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Scrap>, Error> {
    let rows = sqlx::query_as!(
        ScrapRow,
        "SELECT id, movement_id, container_id, paper_id, processed, sheets, area_mm2, mass_g FROM scrap ORDER BY id"
    )
    .fetch_all(conn)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| Scrap {
            id: row.id,
            movement: row.movement_id,
            container: row.container_id,
            paper: row.paper_id,
            processed: row.processed != 0,
            sheets: row.sheets,
            area_mm2: row.area_mm2,
            mass_g: row.mass_g,
        })
        .collect())
}
