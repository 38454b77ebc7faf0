//! Recoveries of silver on site, and the cartridges that were changed.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{CartridgeChangeId, ContainerId, MovementId, PersonId, RecoveryId, SiteId},
    instant::Instant,
    waste::{
        recovery::{CartridgeChange, Recovery},
        taken_back::TakenBack,
    },
};

use crate::store::Error;

struct RecoveryRow {
    id: RecoveryId,
    movement_id: MovementId,
    container_id: ContainerId,
    treated_ul: Option<i64>,
    means: String,
    before_ug_per_l: Option<i64>,
    after_ug_per_l: Option<i64>,
    measured_how: String,
    cartridge: String,
}

/// All recoveries, newest first, those taken back among them.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Recovery>, Error> {
    let rows = sqlx::query_as!(
        RecoveryRow,
        "SELECT id, movement_id, container_id, treated_ul, means, before_ug_per_l, after_ug_per_l, measured_how, cartridge
         FROM recovery ORDER BY id DESC"
    )
    .fetch_all(conn)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| Recovery {
            id: row.id,
            movement: row.movement_id,
            container: row.container_id,
            treated_ul: row.treated_ul,
            means: row.means,
            before_ug_per_l: row.before_ug_per_l,
            after_ug_per_l: row.after_ug_per_l,
            measured_how: row.measured_how,
            cartridge: row.cartridge,
        })
        .collect())
}

/// Stores a recovery whose movement is booked.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn insert(tx: &mut SqliteConnection, recovery: &Recovery) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO recovery (id, movement_id, container_id, treated_ul, means, before_ug_per_l, after_ug_per_l,
             measured_how, cartridge)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        recovery.id,
        recovery.movement,
        recovery.container,
        recovery.treated_ul,
        recovery.means,
        recovery.before_ug_per_l,
        recovery.after_ug_per_l,
        recovery.measured_how,
        recovery.cartridge
    )
    .execute(tx)
    .await?;
    Ok(())
}

struct CartridgeRow {
    id: CartridgeChangeId,
    cartridge: String,
    changed_at: Instant,
    old_went_to: String,
    remark: String,
    changed_by: PersonId,
    undone_at: Option<Instant>,
    undone_by: Option<PersonId>,
    undone_why: String,
}

/// The cartridges put in, newest first, those taken back among them.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_cartridges(conn: &mut SqliteConnection) -> Result<Vec<CartridgeChange>, Error> {
    let rows = sqlx::query_as!(
        CartridgeRow,
        "SELECT id, cartridge, changed_at, old_went_to, remark, changed_by, undone_at, undone_by, undone_why
         FROM cartridge_change ORDER BY changed_at DESC, id DESC"
    )
    .fetch_all(conn)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| CartridgeChange {
            id: row.id,
            cartridge: row.cartridge,
            changed_at: row.changed_at,
            old_went_to: row.old_went_to,
            remark: row.remark,
            changed_by: row.changed_by,
            taken_back: TakenBack::from_columns(row.undone_at, row.undone_by, row.undone_why),
        })
        .collect())
}

/// Stores a change of cartridges.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert_cartridge(
    tx: &mut SqliteConnection,
    site: SiteId,
    change: &CartridgeChange,
    recorded_at: Instant,
) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO cartridge_change (id, site_id, cartridge, changed_at, old_went_to, remark, changed_by, recorded_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        change.id,
        site,
        change.cartridge,
        change.changed_at,
        change.old_went_to,
        change.remark,
        change.changed_by,
        recorded_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Takes a change of cartridges back, if it stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_cartridge_taken_back(
    tx: &mut SqliteConnection,
    id: CartridgeChangeId,
    taken_back: &TakenBack,
) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE cartridge_change SET undone_at = ?, undone_by = ?, undone_why = ? WHERE id = ? AND undone_at IS NULL",
        taken_back.at,
        taken_back.by,
        taken_back.why,
        id
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}
