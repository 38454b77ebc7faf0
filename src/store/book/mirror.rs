//! The mirror of a movement: an entry for each of its own, the other way.

use sqlx::SqliteConnection;

use crate::domain::{
    book::{self, Account, Balances, Draft, Entry, MovementKind, Silver, Vessel, moves},
    field_errors::FieldErrors,
};

use super::Movement;
use crate::store::{Error, WriteError, baths::batches, book as stored_book, waste::containers};

/// Books the mirror of a movement's entries.
///
/// # Errors
/// Refused when it was taken back already or is itself a reversal; when a vessel it touches was
/// read since (that reading first); or when a vessel would fall below zero or is closed, naming
/// what to take back first.
pub(in crate::store) async fn mirror(
    tx: &mut SqliteConnection,
    original: &Movement,
    reversal: &Movement,
) -> Result<(), WriteError> {
    let refused = |words: String| Err(WriteError::from(FieldErrors::whole(words)));
    if original.kind == MovementKind::Reversal {
        return refused("a reversal stands: book what happened anew".to_owned());
    }
    let entries = stored_book::list_of_movement(tx, original.id).await?;
    let last = entries.iter().map(|entry| entry.number).max().unwrap_or_default();
    if !stored_book::list_reversals_of(tx, original.id).await?.is_empty() {
        return refused("this was taken back already".to_owned());
    }
    let mut balances = Balances::default();
    for vessel in vessels(&entries) {
        let history = stored_book::list_of(tx, vessel).await?;
        let since: Vec<&Entry> =
            book::standing(&history).filter(|entry| entry.number > last && entry.movement != original.id).collect();
        // a reading of an earlier moment found nothing of what happened after it
        let read = |entry: &&&Entry| entry.kind == MovementKind::Reading && entry.happened_at >= original.happened_at;
        if let Some(reading) = since.iter().find(read) {
            let name = stored_book::vessel_name(tx, vessel).await?;
            return refused(format!(
                "the silver of {name} was read since: take the reading back first (entry {})",
                reading.number
            ));
        }
        if is_closed(tx, vessel).await? {
            let name = stored_book::vessel_name(tx, vessel).await?;
            return refused(first_undo(&name, vessel, &since));
        }
        balances.set(vessel, stored_book::balance(tx, vessel).await?);
    }
    let drafts = moves::mirrored(&entries);
    refuse_rinsed_away(tx, &drafts).await?;
    for draft in &drafts {
        if let Err(overdrawn) = balances.apply(draft) {
            let history = stored_book::list_of(tx, overdrawn.vessel).await?;
            let since: Vec<&Entry> = book::standing(&history).filter(|entry| entry.number > last).collect();
            let name = stored_book::vessel_name(tx, overdrawn.vessel).await?;
            return refused(first_undo(&name, overdrawn.vessel, &since));
        }
    }
    stored_book::append(tx, reversal, &drafts).await?;
    Ok(())
}

/// Silver that sheets carried into the wash may have been collected with a first rinse since: then the
/// wash no longer has it.
async fn refuse_rinsed_away(tx: &mut SqliteConnection, drafts: &[Draft]) -> Result<(), WriteError> {
    let back = drafts
        .iter()
        .filter(|draft| draft.from == Account::Wash)
        .fold(Silver::NONE, |sum, draft| sum + draft.amount.silver);
    let wash = stored_book::wash_silver(tx).await?;
    if back.is_none() || (wash - back).map(|ug| ug.min(0)) == Silver::NONE {
        return Ok(());
    }
    let words = match stored_book::find_last_rinse(tx).await? {
        Some(entry) => {
            format!("the wash no longer has what this would take back: take entry {entry} (rinse) back first")
        }
        None => "the wash no longer has what this would take back".to_owned(),
    };
    Err(FieldErrors::whole(words).into())
}

/// What to take back first: the newest entry that took something out of the vessel since.
fn first_undo(name: &str, vessel: Vessel, since: &[&Entry]) -> String {
    match since.iter().rev().find(|entry| entry.from.vessel() == Some(vessel)) {
        Some(entry) => format!(
            "{name} no longer has what this would take back: take entry {} ({}) back first",
            entry.number,
            entry.kind.as_str()
        ),
        None => format!("{name} no longer has what this would take back"),
    }
}

fn vessels(entries: &[Entry]) -> Vec<Vessel> {
    let mut vessels: Vec<Vessel> =
        entries.iter().flat_map(|entry| [entry.from, entry.to]).filter_map(Account::vessel).collect();
    vessels.sort_unstable();
    vessels.dedup();
    vessels
}

async fn is_closed(tx: &mut SqliteConnection, vessel: Vessel) -> Result<bool, Error> {
    Ok(match vessel {
        Vessel::Batch(id) => batches::find(tx, id).await?.is_none_or(|batch| !batch.in_use()),
        Vessel::Container(id) => containers::find(tx, id).await?.is_none_or(|container| container.is_removed()),
    })
}
