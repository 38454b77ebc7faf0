//! Poured: a batch for good, a part of a batch or a container, let go under somebody's authority.

use sqlx::SqliteConnection;

use crate::domain::destination::Destination;
use crate::domain::{
    baths::{batch::BatchState, shortfall::Missing},
    book::{Account, Draft, MovementKind, Vessel, moves},
    field_errors::FieldErrors,
    ids::{BatchId, ContainerId},
    instant::Instant,
    waste::{
        discharge::Discharge,
        held::{Held, objection},
    },
};

use super::{Occasion, begin, levels, stale, with_one};
use crate::store::{
    Error, WriteError,
    baths::{batches, tray_slots},
    book::{self, Movement},
    site::sites,
    waste::{containers, removals},
};

/// A batch about to be retired: which, as its page showed it; what was measured, and where what was
/// missing went; into which container, although its label or what it holds speaks against it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Retiring {
    /// Which.
    pub batch: BatchId,
    /// Its version on the page.
    pub version: i64,
    /// What was measured, microlitres.
    pub measured_ul: i64,
    /// Where what is missing went, if somebody said.
    pub missing: Option<Missing>,
    /// Where it was poured; `None` when nothing was left.
    pub into: Option<ContainerId>,
    /// Why there, against an objection.
    pub although: String,
}

/// Retires a batch: its measured volume is booked first (a shortfall written off, an excess from
/// water, both without silver; a spill with its share), then all of it goes into a container, and it
/// leaves its tray.
///
/// With nothing left of it, no container is needed.
///
/// # Errors
/// Stale when the batch changed since the page was loaded. Refused when more is missing than sheets
/// carried off and nobody says where it went; when the container is full, moved, gone or not for this,
/// unless `although` says why; or when nothing is left and the book has silver.
pub async fn retire(tx: &mut SqliteConnection, occasion: &Occasion, retiring: &Retiring) -> Result<(), WriteError> {
    let Retiring { batch: id, version, measured_ul, missing, into, although } = retiring;
    let batch = batches::find(tx, *id).await?.ok_or(WriteError::Missing("batch"))?;
    let vessel = Vessel::Batch(*id);
    if !batch.in_use() || batch.version != *version {
        return Err(stale(batch.name(), Destination::Batch(*id), "retire", "retired already"));
    }
    let movement = begin(tx, &occasion.with_missing(*missing), vessel, MovementKind::Retiring).await?;
    let stood = book::stood(tx, vessel, occasion.happened_at).await?;
    let (adjusted, left) = levels::adjusted(tx, (vessel, &stood), *measured_ul, *missing, &occasion.remark).await?;
    let drafts = if left.is_nothing() {
        with_one(adjusted, MovementKind::Retiring, vessel)
    } else {
        let Some(into) = *into else {
            return Err(FieldErrors::one("into", "choose the container it was poured into").into());
        };
        refuse_objection(tx, occasion, &[Held::Bath(batch.kind)], (into, "into"), although).await?;
        let to = Account::from(Vessel::Container(into));
        let poured = moves::poured(MovementKind::Retiring, (vessel, left), to, left.volume_ul, stood.basis);
        adjusted.into_iter().chain(poured).collect()
    };
    let into = into.filter(|_| !left.is_nothing());
    take_from_tray(tx, *id, occasion).await?;
    book::append(tx, &movement, &drafts).await?;
    let state = BatchState::Retired { at: occasion.happened_at, into };
    batches::update_state(tx, *id, *version, state).await?;
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
/// Refused when there is less, when the container is full, moved, gone, the same, or when what is poured
/// may not meet what it holds, unless `although` says why.
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
    let poured: Vec<Held> = match from {
        Vessel::Batch(id) => batches::find(tx, id).await?.map(|batch| Held::Bath(batch.kind)).into_iter().collect(),
        Vessel::Container(id) => containers::list_held(tx, id).await?,
    };
    refuse_objection(tx, occasion, &poured, (into, "into"), although).await?;
    let draft = part(tx, &movement, from, Account::from(Vessel::Container(into)), volume_ul).await?;
    book::append(tx, &movement, &[draft]).await?;
    Ok(())
}

/// A part of what stood in a vessel when the movement happened, with its silver.
async fn part(
    tx: &mut SqliteConnection,
    movement: &Movement,
    from: Vessel,
    to: Account,
    volume_ul: i64,
) -> Result<Draft, WriteError> {
    let stood = book::stood(tx, from, movement.happened_at).await?;
    let draft = moves::poured(movement.kind, (from, stood.holds), to, volume_ul, stood.basis);
    draft.ok_or_else(|| levels::more_than_there_is(&stood))
}

/// A container takes what its label says and what may meet everything that ever went into it; nothing
/// when it is full, moved or gone. The message stands beside `field`.
pub(super) async fn refuse_objection(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    new: &[Held],
    (into, field): (ContainerId, &str),
    although: &str,
) -> Result<(), WriteError> {
    let container = containers::find(tx, into).await?.ok_or(WriteError::Missing("waste container"))?;
    if let Some(words) = container.closed_to(occasion.happened_at) {
        let field = if field == "into" { field } else { "" };
        return Err(FieldErrors::one(field, words).into());
    }
    let holds = containers::list_held(tx, into).await?;
    match new.iter().find_map(|one| objection(*one, container.contents, &holds)) {
        Some(words) if although.trim().is_empty() => Err(FieldErrors::one(
            field,
            format!(
                "{} is for {}: {words}. If it has to go there, say why below",
                container.name(),
                container.contents.as_str()
            ),
        )
        .into()),
        _ => Ok(()),
    }
}

/// Records that something was let go under somebody's authority. The software never proposes it.
/// `discharge.movement` is the occasion's.
///
/// # Errors
/// Refused without an authority and its permit or letter, or when there is less than that.
pub async fn discharge(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    discharge: &Discharge,
    from: Vessel,
    volume_ul: i64,
) -> Result<(), WriteError> {
    for (field, given) in [("authority", &discharge.authority), ("reference", &discharge.reference)] {
        if given.trim().is_empty() {
            let words = "must name what allowed it: without an authority and its permit or letter it is not recorded";
            return Err(FieldErrors::one(field, words).into());
        }
    }
    let movement = begin(tx, occasion, from, MovementKind::Discharge).await?;
    let draft = part(tx, &movement, from, Account::Discharged, volume_ul).await?;
    book::append(tx, &movement, &[draft]).await?;
    removals::insert_discharge(tx, discharge).await?;
    Ok(())
}

/// What the high figure of silver in a vessel was at a moment, when it stood at or above the site's limit:
/// both in micrograms a litre. Nothing where no limit was entered.
///
/// # Errors
/// When the database cannot be used.
pub async fn at_or_above_limit(
    conn: &mut SqliteConnection,
    vessel: Vessel,
    at: Instant,
) -> Result<Option<(i64, i64)>, Error> {
    let limit = sites::find(conn).await?.and_then(|site| site.silver_limit_ug_per_l);
    let high = book::holds_at(conn, vessel, at).await?.ug_per_l().map(|silver| silver.most_ug());
    Ok(high.zip(limit).filter(|(high, limit)| high >= limit))
}
