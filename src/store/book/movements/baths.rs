//! Baths: mixed, topped up, set into trays.

use sqlx::SqliteConnection;

use crate::domain::{
    baths::{
        batch::{Batch, BatchState, Slot, Stay},
        shortfall::Missing,
    },
    book::{MovementKind, Vessel, moves},
    field_errors::FieldErrors,
    ids::{BatchId, TrayLineId, TraySlotId},
    instant::Instant,
    stock::product::Product,
};

use super::{Occasion, begin, levels, minute_of, not_in_future};
use crate::store::{
    Error, WriteError,
    baths::{batches, tray_slots},
    book,
    stock::products,
};

/// A batch about to be mixed; its label number is the next free one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewBatch {
    /// Its id.
    pub id: BatchId,
    /// What it is mixed from.
    pub product: Product,
    /// Parts of concentrate …
    pub parts_concentrate: i64,
    /// … to parts of water.
    pub parts_water: i64,
    /// How much, microlitres.
    pub volume_ul: i64,
}

/// Mixes a batch and gives it as stored, with its label number. Its concentrate comes off the shelf, where that
/// was counted.
///
/// # Errors
/// Refused when it is said to happen in the future.
pub async fn mix(tx: &mut SqliteConnection, occasion: &Occasion, new: NewBatch) -> Result<Batch, WriteError> {
    let movement = occasion.movement(new.product.site, MovementKind::Mixing, None)?;
    let batch = Batch {
        id: new.id,
        site: new.product.site,
        label_number: batches::next_label_number(tx, new.product.site).await?,
        product: new.product.id,
        kind: new.product.kind,
        product_name: new.product.name,
        parts_concentrate: new.parts_concentrate,
        parts_water: new.parts_water,
        capacity_mm2_per_l: new.product.capacity_mm2_per_l,
        rc_capacity_mm2_per_l: new.product.rc_capacity_mm2_per_l,
        tray_life_ms: new.product.tray_life_ms,
        bottle_life_ms: new.product.bottle_life_ms,
        silver_limit_ug_per_l: new.product.silver_limit_ug_per_l,
        volume_ul: new.volume_ul,
        mixed_at: occasion.happened_at,
        mixed_by: movement.recorded_by,
        state: BatchState::InUse,
        remark: occasion.remark.clone(),
        version: 1,
    };
    batches::insert(tx, &batch).await?;
    products::take_off_shelf(tx, batch.product, batch.concentrate_in(batch.volume_ul)).await?;
    let drafts = [moves::mixed(MovementKind::Mixing, Vessel::Batch(batch.id), batch.volume_ul)];
    book::append(tx, &movement, &drafts).await?;
    Ok(batch)
}

/// What a bath is topped up with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Addition {
    /// Fresh working solution, mixed as the batch was.
    Fresh,
    /// Water.
    Water,
}

/// Tops a bath up: its measured volume is booked first, then what was added.
///
/// # Errors
/// Refused as a measurement is, or when the batch is retired.
pub async fn top_up(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    batch: BatchId,
    (measured_ul, missing): (i64, Option<Missing>),
    (addition, added_ul): (Addition, i64),
) -> Result<(), WriteError> {
    let vessel = Vessel::Batch(batch);
    let movement = begin(tx, &occasion.with_missing(missing), vessel, MovementKind::ToppingUp).await?;
    let stood = book::stood(tx, vessel, occasion.happened_at).await?;
    let (adjusted, _) = levels::adjusted(tx, (vessel, &stood), measured_ul, missing, &occasion.remark).await?;
    let added = match addition {
        Addition::Fresh => {
            let of = batches::find(tx, batch).await?.ok_or(WriteError::Missing("batch"))?;
            products::take_off_shelf(tx, of.product, of.concentrate_in(added_ul)).await?;
            moves::mixed(MovementKind::ToppingUp, vessel, added_ul)
        }
        Addition::Water => moves::watered(MovementKind::ToppingUp, vessel, added_ul),
    };
    let drafts: Vec<_> = adjusted.into_iter().chain([added]).collect();
    book::append(tx, &movement, &drafts).await?;
    Ok(())
}

/// Sets a batch into a tray at a moment. Whatever stands there is taken out at that moment, and the
/// batch itself out of the tray it stands in.
///
/// # Errors
/// Refused when the batch is retired or of another kind, when the moment lies in the future or
/// before it was mixed, or when something stood there, or the batch somewhere, later than that.
pub async fn set_in(
    tx: &mut SqliteConnection,
    id: TraySlotId,
    (tray_line, slot): (TrayLineId, Slot),
    batch: BatchId,
    at: Instant,
    now: Instant,
) -> Result<(), WriteError> {
    not_in_future(at, now)?;
    let batch = batches::find(tx, batch).await?.ok_or(WriteError::Missing("batch"))?;
    let refused = |field: &str, words: String| Err(WriteError::from(FieldErrors::one(field, words)));
    if !batch.in_use() {
        return refused("batch", format!("{} is retired", batch.name()));
    }
    if batch.kind != slot.takes() {
        return refused("batch", format!("{} does not belong into the {} tray", batch.name(), slot.as_str()));
    }
    if at < minute_of(batch.mixed_at) {
        return refused("happened_at", format!("{} was not mixed yet", batch.name()));
    }
    let there = tray_slots::list_of_slot(tx, tray_line, slot).await?;
    let itself = tray_slots::list_of_batch(tx, batch.id).await?;
    if there.iter().chain(&itself).any(|stay| stay.from > at || stay.to.is_some_and(|to| to > at)) {
        let words = "something stood in this tray, or this batch in another, later than that: give a later time";
        return refused("happened_at", words.to_owned());
    }
    if let Some(standing) = there.iter().find(|stay| stay.to.is_none()) {
        tray_slots::update_taken_out(tx, standing.batch, at).await?;
    }
    tray_slots::update_taken_out(tx, batch.id, at).await?;
    let stay = Stay { tray_line, slot, batch: batch.id, from: at, to: None };
    tray_slots::insert(tx, id, &stay).await?;
    Ok(())
}

/// Takes a batch out of its tray at a moment.
///
/// # Errors
/// Refused when it stands in none, or the moment lies in the future or before it was set in.
pub async fn take_out(tx: &mut SqliteConnection, batch: BatchId, at: Instant, now: Instant) -> Result<(), WriteError> {
    not_in_future(at, now)?;
    let Some(stay) = standing_in(tx, batch).await? else {
        return Err(FieldErrors::whole("it does not stand in a tray").into());
    };
    if at < stay.from {
        return Err(FieldErrors::one("happened_at", "must not lie before it was set in").into());
    }
    tray_slots::update_taken_out(tx, batch, at).await?;
    Ok(())
}

/// The tray a batch stands in, if it stands in one.
async fn standing_in(tx: &mut SqliteConnection, batch: BatchId) -> Result<Option<Stay>, Error> {
    Ok(tray_slots::list_of_batch(tx, batch).await?.into_iter().find(|stay| stay.to.is_none()))
}
