//! Proves a database right: its file, the laws of the silver book, and that records and book say
//! the same.

use std::{
    collections::{BTreeMap, BTreeSet},
    path::Path,
};

use sqlx::{Connection, SqliteConnection};

use crate::domain::{
    baths::batch::{Batch, BatchState},
    book::{self, Balances, Entry, MovementKind, Vessel, laws},
    ids::MovementId,
    waste::container::Container,
};

use super::{connect, digests, integrity, releases, schema};
use crate::store::{Error, baths::batches, book as stored_book, waste::containers};

mod dates;

/// Something that is not as it should be, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Where: `entry 12`, `fixer 3`, `the file`.
    pub place: String,
    /// What is wrong.
    pub what: String,
    /// Whether the book is wrong only at an earlier date. Versions before this could write such entries; they
    /// are named until they are put right, and keep nobody from their book.
    pub is_of_old: bool,
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.place, self.what)
    }
}

fn fault(place: impl Into<String>, what: impl Into<String>) -> Fault {
    Fault { place: place.into(), what: what.into(), is_of_old: false }
}

/// Everything that is wrong; nothing when the database is right. It sees one state, also while
/// others write.
///
/// # Errors
/// When the database cannot be used, or holds a row that cannot be read at all.
pub async fn run(conn: &mut SqliteConnection) -> Result<Vec<Fault>, Error> {
    // a savepoint, not BEGIN: the caller may have begun already
    sqlx::query("SAVEPOINT look").execute(&mut *conn).await?;
    let found = look(conn).await;
    sqlx::query("RELEASE look").execute(&mut *conn).await?;
    found
}

/// Everything that is wrong, in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Found {
    /// What an earlier version let be wrong at an earlier date: named until it is put right.
    pub of_old: Vec<String>,
    /// Everything else.
    pub others: Vec<String>,
}

impl Found {
    /// Both.
    pub fn all(self) -> Vec<String> {
        [self.of_old, self.others].concat()
    }
}

/// The same in words; of a file too damaged to answer about its book, what is damaged.
///
/// # Errors
/// When the database cannot be used at all.
pub async fn in_words(conn: &mut SqliteConnection) -> Result<Found, Error> {
    match run(conn).await {
        Ok(found) => {
            let (of_old, others): (Vec<_>, Vec<_>) = found.into_iter().partition(|fault| fault.is_of_old);
            let said = |faults: Vec<Fault>| faults.iter().map(ToString::to_string).collect();
            Ok(Found { of_old: said(of_old), others: said(others) })
        }
        Err(error) => {
            let damage = integrity::faults(conn).await?;
            if damage.is_empty() { Err(error) } else { Ok(Found { others: damage, ..Found::default() }) }
        }
    }
}

/// Everything that is wrong with a backup; the file stays as it is. Of an older schema only the file itself is
/// looked at: the laws are those of the present one.
///
/// # Errors
/// When it cannot be read.
pub async fn copy_in_words(file: &Path) -> Result<Found, Error> {
    let current = releases::is_current(file).await?;
    let mut conn = connect::look_at(file).await?;
    let found = if current {
        in_words(&mut conn).await?
    } else {
        Found { others: integrity::faults(&mut conn).await?, ..Found::default() }
    };
    conn.close().await?;
    Ok(found)
}

async fn look(conn: &mut SqliteConnection) -> Result<Vec<Fault>, Error> {
    let mut faults: Vec<Fault> =
        integrity::faults(conn).await?.into_iter().map(|what| fault("the file", what)).collect();
    faults.extend(schema::faults(conn).await?.into_iter().map(|what| fault("the schema", what)));
    faults.extend(digests::faults(conn).await?.into_iter().map(|what| fault("the rows", what)));
    let entries = stored_book::list(conn).await?;
    let (batches, containers) = (batches::list(conn).await?, containers::list(conn).await?);
    let movements = stored_book::list_movements(conn).await?;
    faults.extend(laws::broken(&entries).into_iter().map(|broken| {
        fault(broken.entry.map_or_else(|| "the book".to_owned(), |entry| format!("entry {entry}")), broken.what)
    }));
    faults.extend(impossible_dates(&entries, &movements));
    faults.extend(dates::wrong(conn, &containers).await?);
    faults.extend(closed_and_not_empty(&laws::balances(&entries), &batches, &containers));
    faults.extend(states_without_entries(&entries, &batches, &containers));
    faults.extend(retired_without_movement(&entries, &movements, &batches));
    faults.extend(unmixed(&entries, &batches));
    faults.extend(wrong_first_drops(&entries, &containers));
    faults.extend(without_cause(&entries, &movements));
    faults.extend(without_record(conn).await?);
    Ok(faults)
}

/// The laws in the order in which things happened.
fn impossible_dates(entries: &[Entry], movements: &[stored_book::Movement]) -> Vec<Fault> {
    let retirings: BTreeSet<MovementId> = movements
        .iter()
        .filter(|movement| movement.kind == MovementKind::Retiring)
        .map(|movement| movement.id)
        .collect();
    let broken = laws::broken_as_it_happened(entries, &retirings).into_iter();
    broken
        .map(|broken| Fault {
            is_of_old: true,
            ..fault(broken.entry.map_or_else(|| "the book".to_owned(), |entry| format!("entry {entry}")), broken.what)
        })
        .collect()
}

fn closed_and_not_empty(balances: &Balances, batches: &[Batch], containers: &[Container]) -> Vec<Fault> {
    let retired =
        batches.iter().filter(|batch| !batch.in_use()).map(|batch| (Vessel::Batch(batch.id), batch.name(), "retired"));
    let removed = containers
        .iter()
        .filter(|container| container.is_removed())
        .map(|container| (Vessel::Container(container.id), container.name(), "removed"));
    retired
        .chain(removed)
        .filter(|(vessel, ..)| !balances.of(*vessel).is_nothing())
        .map(|(vessel, name, state)| fault(name, format!("is {state} and not empty: {:?}", balances.of(vessel))))
        .collect()
}

/// Every batch was mixed once, with the volume it says.
fn unmixed(entries: &[Entry], batches: &[Batch]) -> Vec<Fault> {
    let mut mixed: BTreeMap<Vessel, Vec<i64>> = BTreeMap::new();
    for entry in entries.iter().filter(|entry| entry.kind == MovementKind::Mixing) {
        if let Some(vessel) = entry.to.vessel() {
            mixed.entry(vessel).or_default().push(entry.amount.volume_ul);
        }
    }
    batches
        .iter()
        .filter(|batch| mixed.get(&Vessel::Batch(batch.id)) != Some(&vec![batch.volume_ul]))
        .map(|batch| fault(batch.name(), "the book does not have its mixing once, with its volume"))
        .collect()
}

/// A batch is retired by a retiring that stands, or because its mixing was taken back; no batch in use
/// has one.
fn retired_without_movement(entries: &[Entry], movements: &[stored_book::Movement], batches: &[Batch]) -> Vec<Fault> {
    let retirings: BTreeSet<MovementId> = movements
        .iter()
        .filter(|movement| movement.kind == MovementKind::Retiring)
        .map(|movement| movement.id)
        .collect();
    let (mut retired, mut mixed) = (BTreeSet::new(), BTreeSet::new());
    for entry in book::standing(entries) {
        for vessel in [entry.from, entry.to].into_iter().filter_map(book::Account::vessel) {
            if retirings.contains(&entry.movement) {
                retired.insert(vessel);
            }
            if entry.kind == MovementKind::Mixing {
                mixed.insert(vessel);
            }
        }
    }
    batches
        .iter()
        .filter(|batch| {
            let vessel = Vessel::Batch(batch.id);
            batch.in_use() == (retired.contains(&vessel) || !mixed.contains(&vessel))
        })
        .map(|batch| fault(batch.name(), "record and book do not agree on whether it was retired"))
        .collect()
}

fn wrong_first_drops(entries: &[Entry], containers: &[Container]) -> Vec<Fault> {
    let first = |vessel| {
        book::standing(entries)
            .filter(|entry| {
                entry.to.vessel() == Some(vessel) && (entry.amount.volume_ul > 0 || entry.kind == MovementKind::Scrap)
            })
            .map(|entry| entry.happened_at)
            .min()
    };
    containers
        .iter()
        .filter(|container| container.first_drop_at != first(Vessel::Container(container.id)))
        .map(|container| fault(container.name(), "its accumulation start is not that of its first drop in the book"))
        .collect()
}

/// Every entry has its movement, and says the same; every movement has its entries.
fn without_cause(entries: &[Entry], movements: &[stored_book::Movement]) -> Vec<Fault> {
    let by_id: BTreeMap<MovementId, &stored_book::Movement> =
        movements.iter().map(|movement| (movement.id, movement)).collect();
    let mut faults = Vec::new();
    let mut caused = BTreeSet::new();
    for entry in entries {
        caused.insert(entry.movement);
        let place = format!("entry {}", entry.number);
        match by_id.get(&entry.movement) {
            None => faults.push(fault(place, "names no movement")),
            Some(movement) if !says_the_same(entry, movement) => {
                faults.push(fault(place, "does not say the same as the movement it names"));
            }
            Some(_) => {}
        }
    }
    let bare = movements.iter().filter(|movement| !caused.contains(&movement.id));
    faults.extend(bare.map(|movement| fault(format!("{} {}", movement.kind.as_str(), movement.id), "caused no entry")));
    faults
}

fn says_the_same(entry: &Entry, movement: &stored_book::Movement) -> bool {
    // retiring and topping up measure first; what a measurement finds missing may have been spilled
    let measures = matches!(movement.kind, MovementKind::Retiring | MovementKind::ToppingUp | MovementKind::Measuring);
    let kind = entry.kind == movement.kind
        || (measures && matches!(entry.kind, MovementKind::Measuring | MovementKind::Spill));
    kind && (entry.happened_at, entry.recorded_at, entry.recorded_by)
        == (movement.happened_at, movement.recorded_at, movement.recorded_by)
}

/// Sheets, readings, removals and discharges against their movements.
async fn without_record(conn: &mut SqliteConnection) -> Result<Vec<Fault>, Error> {
    let mut faults = Vec::new();
    for cause in stored_book::list_causes(conn).await? {
        let place = format!("{} {}", cause.kind.as_str(), cause.movement);
        let what = match (cause.undone, cause.entries, cause.reversed) {
            (None, ..) => "the record that caused it is missing",
            (_, entries, reversed) if reversed != 0 && reversed != entries => "is taken back in part only",
            (Some(undone), _, reversed) if undone != (reversed > 0) => {
                "record and book do not agree on whether it was taken back"
            }
            _ => continue,
        };
        faults.push(fault(place, what));
    }
    for (table, movement) in stored_book::list_miscaused(conn).await? {
        faults.push(fault(format!("{table} of movement {movement}"), "names a movement of another kind"));
    }
    Ok(faults)
}

/// A batch is retired where the book poured it; a container is removed when the book says so.
fn states_without_entries(entries: &[Entry], batches: &[Batch], containers: &[Container]) -> Vec<Fault> {
    let standing: Vec<&Entry> = book::standing(entries).collect();
    let poured = |id| {
        let of_it = |entry: &&&Entry| entry.kind == MovementKind::Retiring && entry.from.batch() == Some(id);
        standing.iter().find(of_it).and_then(|entry| entry.to.container())
    };
    let taken =
        |id| standing.iter().any(|entry| entry.kind == MovementKind::Removal && entry.from.container() == Some(id));
    let batches = batches.iter().filter_map(|batch| {
        let into = match batch.state {
            BatchState::Retired { into, .. } => into,
            BatchState::InUse => None,
        };
        (poured(batch.id) != into).then(|| fault(batch.name(), "record and book do not agree on where it was poured"))
    });
    let containers = containers
        .iter()
        .filter(|container| container.is_removed() != taken(container.id))
        .map(|container| fault(container.name(), "record and book do not agree on whether it was removed"));
    batches.chain(containers).collect()
}
