//! What sheets cause in the silver book: on the fixer that stood in the line, or on the container it
//! moved on to, unless a later reading found their silver already.

use sqlx::SqliteConnection;

use crate::domain::{
    baths::{
        batch::{Batch, BatchState, Slot, Stay},
        sheet_run::NewSheetRun,
    },
    book::{
        Draft, Entry, Silver, Vessel,
        course::minute,
        moves::{self, Bath},
    },
    ids::{BatchId, MovementId},
    instant::Instant,
    stock::paper::Paper,
};

use crate::store::{Error, WriteError, baths::batches, book as stored_book, waste::containers};

/// What sheets are to cause.
pub(super) enum Plan {
    /// These entries.
    Book(Planned),
    /// Nothing: no fixer stood in the line.
    NoFixer,
    /// Nothing yet: their fixer has left the site, and the instructor decides.
    Gone,
}

/// What is to be booked.
pub(super) struct Planned {
    pub drafts: Vec<Draft>,
    pub remark: String,
    /// The reading that found their silver, if one did.
    pub rests_on: Option<MovementId>,
    /// When that happened to the vessel they are booked on: to a container, when their fixer came into it.
    pub happened_at: Instant,
}

/// The silver that sheets deliver.
pub(super) fn delivered(area_mm2: i64, paper: &Paper) -> Silver {
    Silver {
        best_ug: moves::per_area(area_mm2, paper.silver_ug_per_m2),
        low_ug: moves::per_area(area_mm2, paper.silver_low_ug_per_m2),
        high_ug: moves::per_area(area_mm2, paper.silver_high_ug_per_m2),
    }
}

/// Where what a fixer held is by now.
enum Whereabouts {
    Tray(Vessel),
    /// Poured into a container, and when.
    MovedOn(Vessel, Instant),
    Gone,
}

/// The entries that sheets cause, by where their fixer is now.
pub(super) async fn plan(
    tx: &mut SqliteConnection,
    run: &NewSheetRun,
    paper: &Paper,
    stays: &[Stay],
) -> Result<Plan, WriteError> {
    let mut fixers = stays.iter().filter(|stay| is_fixer(stay.slot));
    let Some(first) = fixers.next() else { return Ok(Plan::NoFixer) };
    let delivered = delivered(run.area_mm2, paper);
    let carried_ul = moves::per_area(run.area_mm2, paper.carry_over_ul_per_m2);
    let batch = batches::find(tx, first.batch).await?.ok_or(WriteError::Missing("batch"))?;
    let read = read_since(tx, &batch, run.developed_at).await?;
    // a reading after the sheets found their silver already
    let (delivered, remark, rests_on) = match read {
        Some(entry) => (Silver::NONE, moves::counted_in_reading(entry.number), Some(entry.movement)),
        None => (delivered, String::new(), None),
    };
    let (drafts, happened_at) = match whereabouts(tx, &batch).await? {
        Whereabouts::Tray(vessel) => {
            let second = match fixers.next() {
                Some(stay) => in_tray(tx, stay.batch, run.developed_at).await?,
                None => None,
            };
            let first = stored_book::bath_at(tx, vessel, run.developed_at).await?;
            (moves::sheets(delivered, carried_ul, first, second), run.developed_at)
        }
        // no container holds silver before its fixer was poured in
        Whereabouts::MovedOn(container, since) => {
            (vec![moves::late_sheets(delivered, container)], since.max(run.developed_at))
        }
        Whereabouts::Gone => return Ok(Plan::Gone),
    };
    Ok(Plan::Book(Planned { drafts, remark, rests_on, happened_at }))
}

/// Whether a tray holds fixer.
pub(super) fn is_fixer(slot: Slot) -> bool {
    matches!(slot, Slot::Fixer | Slot::SecondFixer)
}

/// The second fixer with what it holds, unless it has moved on too: then the first one's liquid
/// goes to the wash.
async fn in_tray(tx: &mut SqliteConnection, batch: BatchId, at: Instant) -> Result<Option<Bath>, WriteError> {
    let batch = batches::find(tx, batch).await?.ok_or(WriteError::Missing("batch"))?;
    if !batch.in_use() {
        return Ok(None);
    }
    Ok(Some(stored_book::bath_at(tx, Vessel::Batch(batch.id), at).await?))
}

async fn whereabouts(tx: &mut SqliteConnection, batch: &Batch) -> Result<Whereabouts, Error> {
    match batch.state {
        BatchState::InUse => Ok(Whereabouts::Tray(Vessel::Batch(batch.id))),
        BatchState::Retired { into: None, .. } => Ok(Whereabouts::Gone),
        BatchState::Retired { into: Some(id), at } => {
            let vessel = Vessel::Container(id);
            let there = containers::find(tx, id).await?.is_some_and(|container| !container.is_removed())
                // poured on into another: it cannot be said which silver is where
                && stored_book::balance(tx, vessel).await?.volume_ul > 0;
            Ok(if there { Whereabouts::MovedOn(vessel, at) } else { Whereabouts::Gone })
        }
    }
}

/// An entry of a standing reading that found what a batch held at a moment: of the batch itself,
/// or of the container it was poured into.
async fn read_since(tx: &mut SqliteConnection, batch: &Batch, at: Instant) -> Result<Option<Entry>, Error> {
    let found_in = async |tx: &mut SqliteConnection, vessel, since: Instant| -> Result<Option<Entry>, Error> {
        let readings = stored_book::list_readings_of(tx, vessel).await?;
        Ok(readings.into_iter().find(|entry| minute(entry.happened_at) > minute(since)))
    };
    if let Some(entry) = found_in(tx, Vessel::Batch(batch.id), at).await? {
        return Ok(Some(entry));
    }
    match batch.state {
        BatchState::Retired { at: retired_at, into: Some(id) } => {
            found_in(tx, Vessel::Container(id), retired_at.max(at)).await
        }
        BatchState::Retired { into: None, .. } | BatchState::InUse => Ok(None),
    }
}
