//! Taking back what was booked by mistake: a reversing entry for each, naming what it reverses and
//! why. Nothing is ever erased.

use sqlx::SqliteConnection;

use crate::domain::{
    baths::batch::BatchState,
    book::{self, Account, Entry, MovementKind, Vessel},
    field_errors::FieldErrors,
    ids::{BatchId, MovementId},
    instant::Instant,
    people::actor::Actor,
    waste::container::Container,
};

use super::{Movement, mirror::mirror};
use crate::store::{
    WriteError,
    baths::{batches, sheet_runs, tray_slots},
    book as stored_book,
    stock::products,
    waste::{containers, removals},
};

/// Takes a movement back: the mirror of all its entries at the time it happened, written now, and the records
/// it changed as they were. A
/// batch mixed by mistake is retired empty, a retired one is in use again, a removed container is
/// back, sheets no longer load their batches.
///
/// # Errors
/// [`WriteError::Missing`] without such a movement; refused without a reason, and whenever the book
/// would break its laws, naming what to take back first.
pub async fn reverse(
    tx: &mut SqliteConnection,
    actor: Actor,
    movement: MovementId,
    reversal: MovementId,
    at: Instant,
    why: &str,
) -> Result<(), WriteError> {
    if why.trim().is_empty() {
        return Err(FieldErrors::one("why", "must say why it is taken back").into());
    }
    let original = stored_book::find_movement(tx, movement).await?.ok_or(WriteError::Missing("movement"))?;
    if original.kind == MovementKind::Sheet {
        let run = sheet_runs::find_by_movement(tx, movement).await?.ok_or(WriteError::Missing("sheet"))?;
        return sheet_runs::undo(tx, actor, run.id, reversal, at, why).await;
    }
    let reversal = Movement {
        id: reversal,
        site: original.site,
        kind: MovementKind::Reversal,
        // by the time it happened both cancel
        happened_at: original.happened_at,
        recorded_at: at,
        recorded_by: stored_book::person(actor)?,
        remark: why.trim().to_owned(),
        rests_on: None,
    };
    refuse_rested_on(tx, movement).await?;
    let entries = stored_book::list_of_movement(tx, movement).await?;
    match original.kind {
        MovementKind::Mixing => {
            refuse_used(tx, &entries).await?;
            mirror(tx, &original, &reversal).await?;
            give_back_to_shelf(tx, &entries).await?;
            put_away(tx, &entries, at).await
        }
        MovementKind::ToppingUp => {
            mirror(tx, &original, &reversal).await?;
            give_back_to_shelf(tx, &entries).await
        }
        MovementKind::Retiring => {
            put_back_in_use(tx, &entries).await?;
            mirror(tx, &original, &reversal).await
        }
        MovementKind::Removal => {
            bring_back(tx, &entries).await?;
            removals::update_undone(tx, movement, at).await?;
            mirror(tx, &original, &reversal).await
        }
        _ => mirror(tx, &original, &reversal).await,
    }
}

fn batch_of(entries: &[Entry], end: impl Fn(&Entry) -> Account) -> Option<BatchId> {
    entries.iter().find_map(|entry| end(entry).batch())
}

/// Nothing else may stand on a batch that was never mixed.
async fn refuse_used(tx: &mut SqliteConnection, entries: &[Entry]) -> Result<(), WriteError> {
    let Some(batch) = batch_of(entries, |entry| entry.to) else { return Ok(()) };
    let history = stored_book::list_of(tx, Vessel::Batch(batch)).await?;
    let other = book::standing(&history).filter(|entry| entries.iter().all(|own| own.number != entry.number)).last();
    if let Some(entry) = other {
        let words =
            format!("the batch was used since: take entry {} ({}) back first", entry.number, entry.kind.as_str());
        return Err(FieldErrors::whole(words).into());
    }
    if batches::through(tx, batch).await?.sheets > 0 {
        return Err(FieldErrors::whole("sheets went through the batch: take those back first").into());
    }
    Ok(())
}

/// Concentrate that was not used after all counts on the shelf again.
async fn give_back_to_shelf(tx: &mut SqliteConnection, entries: &[Entry]) -> Result<(), WriteError> {
    let mixed = entries.iter().find(|entry| entry.from == Account::Mixed);
    let Some((entry, id)) = mixed.and_then(|entry| Some((entry, entry.to.batch()?))) else { return Ok(()) };
    let batch = batches::find(tx, id).await?.ok_or(WriteError::Missing("batch"))?;
    products::give_back_to_shelf(tx, batch.product, batch.concentrate_in(entry.amount.volume_ul)).await?;
    Ok(())
}

/// A batch whose mixing was taken back is empty and leaves its tray.
async fn put_away(tx: &mut SqliteConnection, entries: &[Entry], at: Instant) -> Result<(), WriteError> {
    let Some(id) = batch_of(entries, |entry| entry.to) else { return Ok(()) };
    let batch = batches::find(tx, id).await?.ok_or(WriteError::Missing("batch"))?;
    tray_slots::update_taken_out(tx, id, at).await?;
    batches::update_state(tx, id, batch.version, BatchState::Retired { at, into: None }).await?;
    Ok(())
}

async fn put_back_in_use(tx: &mut SqliteConnection, entries: &[Entry]) -> Result<(), WriteError> {
    let id = batch_of(entries, |entry| entry.from).or_else(|| batch_of(entries, |entry| entry.to));
    let Some(id) = id else { return Ok(()) };
    let batch = batches::find(tx, id).await?.ok_or(WriteError::Missing("batch"))?;
    batches::update_state(tx, id, batch.version, BatchState::InUse).await?;
    Ok(())
}

async fn bring_back(tx: &mut SqliteConnection, entries: &[Entry]) -> Result<(), WriteError> {
    let Some(id) = entries.iter().find_map(|entry| entry.from.container()) else { return Ok(()) };
    let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("waste container"))?;
    let Ok(life) = container.life.brought_back() else { return Ok(()) };
    containers::update(tx, &Container { life, ..container }).await?;
    Ok(())
}

/// Sheets typed in late were booked without silver because a reading had found it: that reading
/// stays while they do.
async fn refuse_rested_on(tx: &mut SqliteConnection, movement: MovementId) -> Result<(), WriteError> {
    match stored_book::list_resting_on(tx, movement).await?.first() {
        Some(resting) => {
            let (number, kind) = (resting.number, resting.kind.as_str());
            let words = format!("sheets typed in late count on this reading: take entry {number} ({kind}) back first");
            Err(FieldErrors::whole(words).into())
        }
        None => Ok(()),
    }
}
