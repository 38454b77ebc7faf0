//! Batches of working solution.

use sqlx::SqliteConnection;

use crate::domain::{
    baths::{
        batch::{Batch, BatchState},
        condition::Load,
    },
    book::{self, Account, Amount, Basis, MovementKind, Vessel},
    ids::{BatchId, ContainerId, PersonId, ProductId, SiteId},
    instant::Instant,
    stock::product::ProductKind,
};

use super::{clearing_tests, tray_slots};
use crate::store::{Error, book::entries};

struct BatchRow {
    id: BatchId,
    site_id: SiteId,
    label_number: i64,
    product_id: ProductId,
    kind: String,
    product_name: String,
    parts_concentrate: i64,
    parts_water: i64,
    capacity_mm2_per_l: Option<i64>,
    rc_capacity_mm2_per_l: Option<i64>,
    tray_life_ms: Option<i64>,
    bottle_life_ms: Option<i64>,
    silver_limit_ug_per_l: Option<i64>,
    volume_ul: i64,
    mixed_at: Instant,
    mixed_by: PersonId,
    retired_at: Option<Instant>,
    retired_into: Option<ContainerId>,
    remark: String,
    version: i64,
}

impl TryFrom<BatchRow> for Batch {
    type Error = Error;
    fn try_from(row: BatchRow) -> Result<Self, Error> {
        let wrong = || Error::Inconsistent { table: "batch", column: "kind", id: row.id.to_string() };
        Ok(Self {
            id: row.id,
            site: row.site_id,
            label_number: row.label_number,
            product: row.product_id,
            kind: ProductKind::from_word(&row.kind).ok_or_else(wrong)?,
            product_name: row.product_name,
            parts_concentrate: row.parts_concentrate,
            parts_water: row.parts_water,
            capacity_mm2_per_l: row.capacity_mm2_per_l,
            rc_capacity_mm2_per_l: row.rc_capacity_mm2_per_l,
            tray_life_ms: row.tray_life_ms,
            bottle_life_ms: row.bottle_life_ms,
            silver_limit_ug_per_l: row.silver_limit_ug_per_l,
            volume_ul: row.volume_ul,
            mixed_at: row.mixed_at,
            mixed_by: row.mixed_by,
            state: match row.retired_at {
                Some(at) => BatchState::Retired { at, into: row.retired_into },
                None => BatchState::InUse,
            },
            remark: row.remark,
            version: row.version,
        })
    }
}

/// Batches that a condition names, in an order.
macro_rules! batches {
    ($how:ident, $conn:expr, $condition:tt $(, $bound:expr)*) => {
        sqlx::query_as!(
            BatchRow,
            "SELECT id, site_id, label_number, product_id, kind, product_name, parts_concentrate, parts_water,
                    capacity_mm2_per_l, rc_capacity_mm2_per_l, tray_life_ms, bottle_life_ms, silver_limit_ug_per_l,
                    volume_ul, mixed_at, mixed_by, retired_at, retired_into, remark, version
             FROM batch " + $condition
            $(, $bound)*
        )
        .$how($conn)
        .await?
    };
}

/// One batch.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: BatchId) -> Result<Option<Batch>, Error> {
    batches!(fetch_optional, conn, "WHERE id = ?", id).map(Batch::try_from).transpose()
}

/// The batches in use, in the order of the trays, the newest of a kind first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_in_use(conn: &mut SqliteConnection) -> Result<Vec<Batch>, Error> {
    batches!(
        fetch_all,
        conn,
        "WHERE state = 'in use'
         ORDER BY CASE kind WHEN 'developer' THEN 1 WHEN 'stop bath' THEN 2 WHEN 'fixer' THEN 3 ELSE 4 END,
                  label_number DESC"
    )
    .into_iter()
    .map(Batch::try_from)
    .collect()
}

/// All batches, in the order of their numbers.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Batch>, Error> {
    batches!(fetch_all, conn, "ORDER BY label_number, id").into_iter().map(Batch::try_from).collect()
}

/// The next free label number of a site.
///
/// # Errors
/// When the database cannot be used.
pub async fn next_label_number(conn: &mut SqliteConnection, site: SiteId) -> Result<i64, Error> {
    let row =
        sqlx::query!(r#"SELECT coalesce(max(label_number), 0) + 1 AS "next!: i64" FROM batch WHERE site_id = ?"#, site)
            .fetch_one(conn)
            .await?;
    Ok(row.next)
}

/// Stores a new batch. Its mixing is booked by [`super::movements::mix`].
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn insert(tx: &mut SqliteConnection, batch: &Batch) -> Result<(), Error> {
    let kind = batch.kind.as_str();
    sqlx::query!(
        "INSERT INTO batch (id, site_id, label_number, product_id, kind, product_name, parts_concentrate, parts_water,
             capacity_mm2_per_l, rc_capacity_mm2_per_l, tray_life_ms, bottle_life_ms, silver_limit_ug_per_l, volume_ul,
             mixed_at, mixed_by, remark)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        batch.id,
        batch.site,
        batch.label_number,
        batch.product,
        kind,
        batch.product_name,
        batch.parts_concentrate,
        batch.parts_water,
        batch.capacity_mm2_per_l,
        batch.rc_capacity_mm2_per_l,
        batch.tray_life_ms,
        batch.bottle_life_ms,
        batch.silver_limit_ug_per_l,
        batch.volume_ul,
        batch.mixed_at,
        batch.mixed_by,
        batch.remark
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Sets a batch's life, if its version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn update_state(
    tx: &mut SqliteConnection,
    id: BatchId,
    version: i64,
    state: BatchState,
) -> Result<bool, Error> {
    let (word, at, into) = match state {
        BatchState::InUse => ("in use", None, None),
        BatchState::Retired { at, into } => ("retired", Some(at), into),
    };
    let done = sqlx::query!(
        "UPDATE batch SET state = ?, retired_at = ?, retired_into = ?, version = version + 1
         WHERE id = ? AND version = ?",
        word,
        at,
        into,
        id,
        version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// The sheets that went through a batch and stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Through {
    /// How many.
    pub sheets: i64,
    /// Their area, square millimetres.
    pub area_mm2: i64,
    /// That of resin-coated paper among them.
    pub rc_area_mm2: i64,
}

/// The sheets that went through a batch and stand.
///
/// # Errors
/// When the database cannot be used.
pub async fn through(conn: &mut SqliteConnection, id: BatchId) -> Result<Through, Error> {
    let row = sqlx::query!(
        r#"SELECT coalesce(sum(run.sheets), 0) AS "sheets!: i64", coalesce(sum(run.area_mm2), 0) AS "area!: i64",
                  coalesce(sum(run.area_mm2) FILTER (WHERE paper.base = 'resin-coated'), 0) AS "rc_area!: i64"
           FROM sheet_run_batch passed
           JOIN sheet_run run ON run.id = passed.sheet_run_id
           JOIN paper ON paper.id = run.paper_id
           WHERE passed.batch_id = ? AND run.undone_at IS NULL"#,
        id
    )
    .fetch_one(conn)
    .await?;
    Ok(Through { sheets: row.sheets, area_mm2: row.area, rc_area_mm2: row.rc_area })
}

/// What went through a batch and what is in it, from the book, the sheets and the trays.
///
/// # Errors
/// When the database cannot be used.
pub async fn load(conn: &mut SqliteConnection, id: BatchId) -> Result<Load, Error> {
    let vessel = Vessel::Batch(id);
    let entries = entries::list_of(conn, vessel).await?;
    let (mut fresh_ul, mut holds, mut retired) = (0, Amount::NOTHING, Amount::NOTHING);
    for entry in &entries {
        holds += entry.effect_on(vessel);
    }
    for entry in book::standing(&entries) {
        if entry.from == Account::Mixed {
            fresh_ul += entry.amount.volume_ul;
        } else if entry.kind == MovementKind::Retiring && entry.from == Account::from(vessel) {
            retired += entry.amount;
        }
    }
    let Through { sheets, area_mm2, rc_area_mm2 } = through(conn, id).await?;
    let clearing = clearing_tests::list_of(conn, id).await?.into_iter().rfind(|test| test.undone_at.is_none());
    let in_tray_since = tray_slots::list_of_batch(conn, id).await?.first().map(|stay| stay.from);
    let basis = if retired.is_nothing() {
        book::basis_of(vessel, &entries)
    } else {
        // what it rested on when it was poured away
        book::standing(&entries).last().map_or(Basis::Volume, |entry| entry.basis)
    };
    let clearing = clearing.map(|test| test.times);
    Ok(Load { sheets, area_mm2, rc_area_mm2, fresh_ul, holds, retired, basis, in_tray_since, clearing })
}
