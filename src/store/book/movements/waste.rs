//! Waste containers: set up, recovered from, taken away, put away.

use sqlx::SqliteConnection;

use crate::domain::destination::Destination;
use crate::domain::{
    book::{Account, Amount, MovementKind, Silver, Vessel, moves, standing},
    field_errors::FieldErrors,
    ids::ContainerId,
    waste::{container::Container, opening::Opening, recovery::Recovery, removal::Removal},
};

use super::{Occasion, begin, stale};
use crate::store::{
    WriteError, book,
    site::sites,
    waste::{containers, deadlines::DeadlineSources, kept_deadlines, recoveries, removals},
};

/// A new container, with what stands in it already, if anything: then the occasion is when its first
/// drop went in.
///
/// # Errors
/// Refused when that lies in the future or is more than the container takes.
pub async fn set_up(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    container: &Container,
    already: Option<Opening>,
) -> Result<Container, WriteError> {
    let label_number = containers::next_label_number(tx, container.site).await?;
    let container = Container { label_number, ..container.clone() };
    containers::insert(tx, &container, occasion.recorded_at).await?;
    if let Some(already) = already {
        let movement = occasion.movement(container.site, MovementKind::Opening, None)?;
        let opened = moves::opened(Vessel::Container(container.id), already.amount(), already.basis());
        book::append(tx, &movement, &[opened]).await?;
    }
    Ok(container)
}

/// Silver was recovered from a container on site and weighed; the liquid stays. `recovery.movement` is
/// the occasion's.
///
/// # Errors
/// Refused when it is more than the book's best or high estimate has there: the silver must be read
/// first.
pub async fn recover(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    recovery: &Recovery,
    silver_ug: i64,
) -> Result<(), WriteError> {
    let vessel = Vessel::Container(recovery.container);
    let movement = begin(tx, occasion, vessel, MovementKind::Recovery).await?;
    let stood = book::stood(tx, vessel, occasion.happened_at).await?;
    let Silver { best_ug, high_ug, .. } = stood.holds.silver;
    if silver_ug > best_ug.min(high_ug) {
        let words = format!(
            "is more than the book has there{} ({} g): record a reading of its silver first",
            if stood.long_ago.is_empty() { String::new() } else { format!(" on {}", stood.long_ago) },
            best_ug.min(high_ug) as f64 / 1e6
        );
        return Err(FieldErrors::one("silver", words).into());
    }
    // the low estimate gives what it has, also of what it had less since
    let gives = Amount { silver: stood.holds.silver.least(stood.least.silver), ..stood.holds };
    book::append(tx, &movement, &[moves::recovered((vessel, gives), silver_ug)]).await?;
    recoveries::insert(tx, recovery).await?;
    Ok(())
}

/// A carrier took a container away with all that was in it. `removal.movement` is the occasion's. What
/// applied to it until then is kept as it was: each rule, when its clock began, by when it had to go.
///
/// # Errors
/// Stale when the container changed since the page was loaded; refused when it is empty.
pub async fn remove(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    version: i64,
    removal: &Removal,
) -> Result<(), WriteError> {
    let id = removal.container;
    let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("waste container"))?;
    if container.is_removed() || container.version != version {
        return Err(stale(container.name(), Destination::Container(id), "removed", container.state().as_str()));
    }
    let vessel = Vessel::Container(id);
    let movement = begin(tx, occasion, vessel, MovementKind::Removal).await?;
    let stood = book::stood(tx, vessel, occasion.happened_at).await?;
    if stood.holds.is_nothing() && stood.long_ago.is_empty() {
        return Err(FieldErrors::whole("there is nothing in it to be taken away").into());
    }
    let site = sites::find(tx).await?.ok_or(WriteError::Missing("the site"))?;
    let applied = DeadlineSources::find(tx, &site).await?.running(&container);
    // the whole of it: what is poured on later than that refuses the removal
    let (all, to) = (stood.holds.volume_ul, Account::Removed);
    let draft = moves::poured(MovementKind::Removal, (vessel, stood.holds), to, all, stood.basis);
    book::append(tx, &movement, &draft.into_iter().collect::<Vec<_>>()).await?;
    removals::insert(tx, removal).await?;
    kept_deadlines::insert(tx, removal.id, &applied).await?;
    // read again: the book may have moved the first drop
    let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("waste container"))?;
    let life = container.life.removed(occasion.happened_at).map_err(|_| FieldErrors::whole("it is not here"))?;
    containers::update(tx, &Container { life, ..container }).await?;
    Ok(())
}

/// Puts a container away that was set up by mistake: nothing was ever in it, or all of it was taken
/// back.
///
/// # Errors
/// Stale when it changed since the page was loaded; refused when something is in it, or was and did
/// not leave by being taken back.
pub async fn put_away(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    (id, version): (ContainerId, i64),
) -> Result<(), WriteError> {
    let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("waste container"))?;
    let (Ok(life), true) = (container.life.put_away(occasion.happened_at), container.version == version) else {
        return Err(stale(container.name(), Destination::Container(id), "put away", container.state().as_str()));
    };
    let vessel = Vessel::Container(id);
    let history = book::list_of(tx, vessel).await?;
    if let Some(entry) = standing(&history).last() {
        let words = format!(
            "something is or was in it: entry {} ({}). Take back what was booked wrongly; a used container is removed, \
             not put away",
            entry.number,
            entry.kind.as_str()
        );
        return Err(FieldErrors::whole(words).into());
    }
    containers::update(tx, &Container { life, ..container }).await?;
    Ok(())
}

/// Takes a container out again that was put away.
///
/// # Errors
/// Stale when it was not put away.
pub async fn take_out_again(tx: &mut SqliteConnection, id: ContainerId) -> Result<(), WriteError> {
    let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("waste container"))?;
    let Ok(life) = container.life.taken_out() else {
        return Err(stale(container.name(), Destination::Container(id), "taken out again", "here"));
    };
    containers::update(tx, &Container { life, ..container }).await?;
    Ok(())
}
