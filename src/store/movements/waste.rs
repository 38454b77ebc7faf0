//! Waste: poured into containers, recovered, taken away, let go under somebody's authority.

use sqlx::SqliteConnection;

use crate::domain::{
    batch::BatchState,
    book::{Account, Amount, Basis, Draft, MovementKind, Silver, Vessel, basis_of, moves, standing},
    container::{Container, ContainerState, objection},
    field_errors::FieldErrors,
    ids::{BatchId, ContainerId, DischargeId},
    product::ProductKind,
    recovery::Recovery,
    removal::Removal,
};

use super::{Occasion, begin, levels, with_one};
use crate::store::{Stale, WriteError, batches, book, containers, recoveries, removals, tray_slots};

/// A new container, with what stands in it already, if anything: then the occasion is when its first
/// drop went in.
///
/// # Errors
/// Refused when that lies in the future or is more than the container takes.
pub async fn set_up(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    container: &Container,
    already: Amount,
) -> Result<Container, WriteError> {
    let label_number = containers::next_label_number(tx, container.site).await?;
    let container = Container { label_number, ..container.clone() };
    containers::insert(tx, &container, occasion.recorded_at).await?;
    if !already.is_nothing() {
        let movement = occasion.movement(container.site, MovementKind::Opening, None)?;
        let basis = if already.silver.is_none() { Basis::Volume } else { Basis::Stated };
        book::append(tx, &movement, &[moves::opened(Vessel::Container(container.id), already, basis)]).await?;
    }
    Ok(container)
}

/// Retires a batch: its measured volume is booked first (a shortfall written off, an excess from
/// water, both without silver), then all of it goes into a container, and it leaves its tray.
///
/// With nothing left of it, no container is needed.
///
/// # Errors
/// Stale when the batch changed since the page was loaded. Refused when the container is full, gone
/// or not for this, unless `although` says why; or when nothing is left and the book has silver.
pub async fn retire(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    (id, version): (BatchId, i64),
    measured_ul: i64,
    into: Option<ContainerId>,
    although: &str,
) -> Result<(), WriteError> {
    let batch = batches::find(tx, id).await?.ok_or(WriteError::Missing("batch"))?;
    let vessel = Vessel::Batch(id);
    if !batch.in_use() || batch.version != version {
        return Err(stale(batch.name(), format!("/front/chemistry/batches/{id}"), "retire", "retired already"));
    }
    let movement = begin(tx, occasion, vessel, MovementKind::Retiring).await?;
    let mut holds = book::balance(tx, vessel).await?;
    levels::refuse_dry(holds, measured_ul)?;
    let adjusted = moves::measured(MovementKind::Measuring, (vessel, holds), measured_ul);
    holds.volume_ul = measured_ul;
    let drafts = if holds.is_nothing() {
        with_one(adjusted, MovementKind::Retiring, vessel)
    } else {
        let Some(into) = into else {
            return Err(FieldErrors::one("into", "choose the container it was poured into").into());
        };
        refuse_objection(tx, &[batch.kind], into, although).await?;
        let basis = basis_of(vessel, &book::list_of(tx, vessel).await?);
        let to = Account::from(Vessel::Container(into));
        let poured = moves::poured(MovementKind::Retiring, (vessel, holds), to, holds.volume_ul, basis);
        adjusted.into_iter().chain(poured).collect()
    };
    let into = into.filter(|_| !holds.is_nothing());
    take_from_tray(tx, id, occasion).await?;
    book::append(tx, &movement, &drafts).await?;
    let state = BatchState::Retired { at: occasion.happened_at, into };
    batches::update_state(tx, id, version, state).await?;
    Ok(())
}

async fn take_from_tray(tx: &mut SqliteConnection, batch: BatchId, occasion: &Occasion) -> Result<(), WriteError> {
    let standing = tray_slots::list_of_batch(tx, batch).await?.into_iter().find(|stay| stay.to.is_none());
    if standing.is_some_and(|stay| stay.from > occasion.happened_at) {
        return Err(FieldErrors::one("happened_at", "must not lie before it was set into its tray").into());
    }
    tray_slots::update_taken_out(tx, batch, occasion.happened_at).await?;
    Ok(())
}

/// Pours a part, or all, of a batch or a container into another container.
///
/// # Errors
/// Refused when there is less, when the container is full, gone, the same, or not for this, unless
/// `although` says why.
pub async fn pour(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    from: Vessel,
    into: ContainerId,
    volume_ul: i64,
    although: &str,
) -> Result<(), WriteError> {
    if from == Vessel::Container(into) {
        return Err(FieldErrors::one("into", "must be another container").into());
    }
    let movement = begin(tx, occasion, from, MovementKind::Pouring).await?;
    let kinds = match from {
        Vessel::Batch(id) => batches::find(tx, id).await?.map(|batch| vec![batch.kind]).unwrap_or_default(),
        Vessel::Container(id) => {
            let label = containers::find(tx, id).await?.and_then(|container| container.contents.kind());
            containers::list_kinds_in(tx, id).await?.into_iter().chain(label).collect()
        }
    };
    refuse_objection(tx, &kinds, into, although).await?;
    let draft = part(tx, MovementKind::Pouring, from, Account::from(Vessel::Container(into)), volume_ul).await?;
    book::append(tx, &movement, &[draft]).await?;
    Ok(())
}

async fn part(
    tx: &mut SqliteConnection,
    kind: MovementKind,
    from: Vessel,
    to: Account,
    volume_ul: i64,
) -> Result<Draft, WriteError> {
    let holds = book::balance(tx, from).await?;
    let basis = basis_of(from, &book::list_of(tx, from).await?);
    moves::poured(kind, (from, holds), to, volume_ul, basis).ok_or_else(|| levels::more_than_there_is(holds))
}

/// A container takes what its label says, and never developer with stop bath or fixer.
async fn refuse_objection(
    tx: &mut SqliteConnection,
    kinds: &[ProductKind],
    into: ContainerId,
    although: &str,
) -> Result<(), WriteError> {
    let container = containers::find(tx, into).await?.ok_or(WriteError::Missing("waste container"))?;
    let refused = |words: String| Err(WriteError::from(FieldErrors::one("into", words)));
    match container.state {
        ContainerState::Filling => {}
        ContainerState::Full => return refused(format!("{} is full: choose another", container.name())),
        ContainerState::Removed { .. } => return refused(format!("{} was removed", container.name())),
    }
    if container.put_away_at.is_some() {
        return refused(format!("{} was put away: take it out again first", container.name()));
    }
    let holds = containers::list_kinds_in(tx, into).await?;
    let said = kinds.iter().find_map(|kind| objection(*kind, container.contents, &holds));
    match said {
        Some(words) if although.trim().is_empty() => refused(format!(
            "{} is for {}: {words}. If it has to go there, say why below",
            container.name(),
            container.contents.as_str()
        )),
        _ => Ok(()),
    }
}

/// Records that something was let go under somebody's authority. The software never proposes it.
///
/// # Errors
/// Refused without an authority or permit, or when there is less than that.
pub async fn discharge(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    id: DischargeId,
    from: Vessel,
    volume_ul: i64,
    authority: &str,
) -> Result<(), WriteError> {
    if authority.trim().is_empty() {
        let words = "must name the authority or permit that allowed it: without one it is not recorded";
        return Err(FieldErrors::one("authority", words).into());
    }
    let movement = begin(tx, occasion, from, MovementKind::Discharge).await?;
    let draft = part(tx, MovementKind::Discharge, from, Account::Discharged, volume_ul).await?;
    book::append(tx, &movement, &[draft]).await?;
    removals::insert_discharge(tx, id, movement.id, authority.trim()).await?;
    Ok(())
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
    let holds = book::balance(tx, vessel).await?;
    let Silver { best_ug, high_ug, .. } = holds.silver;
    if silver_ug > best_ug.min(high_ug) {
        let words = format!(
            "is more than the book has there ({} g): record a reading of its silver first",
            best_ug.min(high_ug) as f64 / 1e6
        );
        return Err(FieldErrors::one("silver", words).into());
    }
    book::append(tx, &movement, &[moves::recovered((vessel, holds), silver_ug)]).await?;
    recoveries::insert(tx, recovery).await?;
    Ok(())
}

/// A carrier took a container away with all that was in it. `removal.movement` is the occasion's.
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
        let path = format!("/front/waste/containers/{id}");
        return Err(stale(container.name(), path, "removed", container.state.as_str()));
    }
    let vessel = Vessel::Container(id);
    let movement = begin(tx, occasion, vessel, MovementKind::Removal).await?;
    let holds = book::balance(tx, vessel).await?;
    if holds.is_nothing() {
        return Err(FieldErrors::whole("there is nothing in it to be taken away").into());
    }
    let draft = part(tx, MovementKind::Removal, vessel, Account::Removed, holds.volume_ul).await?;
    book::append(tx, &movement, &[draft]).await?;
    removals::insert(tx, removal).await?;
    // read again: the book may have moved the first drop
    let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("waste container"))?;
    let removed = Container { state: ContainerState::Removed { at: occasion.happened_at }, ..container };
    containers::update(tx, &removed).await?;
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
    if container.version != version || container.put_away_at.is_some() || container.is_removed() {
        let path = format!("/front/waste/containers/{id}");
        return Err(stale(container.name(), path, "put away", container.state.as_str()));
    }
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
    containers::update(tx, &Container { put_away_at: Some(occasion.happened_at), ..container }).await?;
    Ok(())
}

/// Takes a container out again that was put away.
///
/// # Errors
/// Stale when it was not put away.
pub async fn take_out_again(tx: &mut SqliteConnection, id: ContainerId) -> Result<(), WriteError> {
    let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("waste container"))?;
    if container.put_away_at.is_none() {
        let path = format!("/front/waste/containers/{id}");
        return Err(stale(container.name(), path, "taken out again", "here"));
    }
    containers::update(tx, &Container { put_away_at: None, ..container }).await?;
    Ok(())
}

/// What the page said, beside what stands now.
fn stale(what: String, path: String, sent: &str, stored: &str) -> WriteError {
    let fields = vec![("state".to_owned(), sent.to_owned(), stored.to_owned())];
    WriteError::Stale(Box::new(Stale { what, path, fields }))
}
