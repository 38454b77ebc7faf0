//! `disposal-log.csv`: one row a movement into, within or out of a waste container, and one a discharge from
//! a bath, in the order in which they happened. What was taken back stays, with what took it back beside it.

use std::collections::HashMap;

use jiff::civil::Date;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        baths::batch::Batch,
        book::{Account, Basis, Entry, MovementKind, course::with_corrections},
        ids::{BatchId, ContainerId, MovementId},
        waste::{
            container::{Container, Contents},
            deadline::Deadline,
            discharge::Discharge,
            removal::Removal,
            scrap::Scrap,
        },
    },
    store::{
        Error,
        baths::{batches, sheet_runs},
        book,
        people::names as people,
        site::sites,
        waste::{containers, deadlines::DeadlineSources, removals, scraps},
    },
};

use super::{
    Cell, Table,
    labels::{Labels, label, name},
    zone_of,
};

/// The columns, in their order.
pub const COLUMNS: [&str; 33] = [
    "entry",
    "happened_at",
    "recorded_at",
    "event",
    "from",
    "from_id",
    "to",
    "to_id",
    "contents",
    "volume_ml",
    "mass_kg",
    "sheets",
    "area_m2",
    "silver_mg",
    "silver_low_mg",
    "silver_high_mg",
    "silver_mg_per_l",
    "basis",
    "accumulation_start",
    "remove_by",
    "carrier",
    "destination",
    "reference",
    "copy_returned_at",
    "recorded_by",
    "remark",
    "first_drop_at",
    "full_at",
    "moved_at",
    "remove_by_clock",
    "remove_by_rule",
    "reverses",
    "taken_back_by",
];

/// One movement of waste, with what the log says about it.
#[derive(Clone, Debug)]
pub struct Row {
    /// The entry of the book.
    pub entry: Entry,
    /// The entry that took it back, if one did.
    pub taken_back_by: Option<i64>,
    /// What it is, as waste.
    pub contents: Contents,
    /// Where it went, or where it came from when it left; nothing for a discharge from a bath.
    pub container: Option<Container>,
    /// How many sheets and what area loaded it, where a whole batch came in or sheets came late.
    pub sheets: Option<(i64, i64)>,
    /// The most pressing of its deadlines: the day by which it must be gone, with the rule and the clock
    /// it follows; of a container that left, as it stood then.
    pub deadline: Option<Deadline>,
    /// The removal, for an entry that is one.
    pub removal: Option<Removal>,
    /// Under whose authority and by which paper, for a discharge.
    pub authority: Option<String>,
    /// What went away, or was thrown in, weighed, if it was weighed, grams.
    pub mass_g: Option<i64>,
}

impl Row {
    /// The earliest day by which the container must be gone, or had to be.
    pub fn remove_by(&self) -> Option<Date> {
        self.deadline.as_ref().and_then(|deadline| deadline.by)
    }

    /// The number of the paper that went with it, or the authority that allowed it.
    pub fn reference(&self) -> Option<&str> {
        self.removal.as_ref().map(|removal| removal.reference.as_str()).or(self.authority.as_deref())
    }
}

/// What rows are made from.
struct Sources {
    containers: HashMap<ContainerId, Container>,
    batches: HashMap<BatchId, Batch>,
    removals: HashMap<MovementId, Removal>,
    discharges: HashMap<MovementId, Discharge>,
    deadlines: HashMap<ContainerId, Deadline>,
    scraps: HashMap<MovementId, Scrap>,
}

/// The rows of entries of waste, in the order in which they happened: a reversal beside what it takes back,
/// if that is among them.
///
/// # Errors
/// When the database cannot be used.
pub async fn rows_of(conn: &mut SqliteConnection, entries: impl IntoIterator<Item = Entry>) -> Result<Vec<Row>, Error> {
    let containers: HashMap<ContainerId, Container> =
        containers::list(conn).await?.into_iter().map(|one| (one.id, one)).collect();
    let sources = Sources {
        deadlines: pressing(conn, containers.values()).await?,
        containers,
        batches: batches::list(conn).await?.into_iter().map(|one| (one.id, one)).collect(),
        removals: removals::list(conn).await?.into_iter().map(|one| (one.movement, one)).collect(),
        discharges: removals::list_discharges(conn).await?.into_iter().map(|one| (one.movement, one)).collect(),
        scraps: scraps::list(conn).await?.into_iter().map(|one| (one.movement, one)).collect(),
    };
    let entries: Vec<Entry> = entries.into_iter().collect();
    let taken_back: HashMap<i64, i64> =
        entries.iter().filter_map(|entry| Some((entry.reverses?, entry.number))).collect();
    let mut rows = Vec::new();
    for entry in with_corrections(&entries) {
        let entry = entry.clone();
        let container = entry.to.container().or(entry.from.container()).and_then(|id| sources.containers.get(&id));
        let bath = entry.from.batch().or(entry.to.batch()).and_then(|id| sources.batches.get(&id));
        let let_go = entry.from == Account::Discharged || entry.to == Account::Discharged;
        let of_bath = bath.filter(|_| let_go).map(|bath| Contents::of_bath(bath.kind));
        let Some(contents) = container.map(|container| container.contents).or(of_bath) else { continue };
        let sheets = sheets_of(conn, &entry, &sources).await?;
        rows.push(Row {
            taken_back_by: taken_back.get(&entry.number).copied(),
            contents,
            container: container.cloned(),
            sheets,
            deadline: container.and_then(|container| sources.deadlines.get(&container.id)).cloned(),
            removal: sources.removals.get(&entry.movement).cloned(),
            authority: sources.discharges.get(&entry.movement).map(Discharge::in_words),
            mass_g: sources
                .removals
                .get(&entry.movement)
                .and_then(|removal| removal.mass_g)
                .or_else(|| sources.scraps.get(&entry.movement).and_then(|scrap| scrap.mass_g)),
            entry,
        });
    }
    Ok(rows)
}

/// The most pressing deadline of each container, where one runs.
async fn pressing(
    conn: &mut SqliteConnection,
    containers: impl Iterator<Item = &Container>,
) -> Result<HashMap<ContainerId, Deadline>, Error> {
    let mut pressing = HashMap::new();
    let Some(site) = sites::find(conn).await? else { return Ok(pressing) };
    let sources = DeadlineSources::find(conn, &site).await?;
    for container in containers {
        let deadlines = sources.of(conn, container).await?;
        let first = deadlines.into_iter().filter(|one| one.by.is_some()).min_by_key(|one| one.by);
        pressing.extend(first.map(|deadline| (container.id, deadline)));
    }
    Ok(pressing)
}

async fn sheets_of(conn: &mut SqliteConnection, entry: &Entry, sources: &Sources) -> Result<Option<(i64, i64)>, Error> {
    match (entry.kind, entry.from.batch().and_then(|id| sources.batches.get(&id))) {
        (MovementKind::Retiring, Some(batch)) => {
            let through = batches::through(conn, batch.id).await?;
            Ok(Some((through.sheets, through.area_mm2)))
        }
        (MovementKind::Scrap, _) => Ok(sources.scraps.get(&entry.movement).map(|scrap| (scrap.sheets, scrap.area_mm2))),
        (MovementKind::Sheet, _) => {
            Ok(sheet_runs::find_by_movement(conn, entry.movement).await?.map(|run| (run.sheets, run.area_mm2)))
        }
        _ => Ok(None),
    }
}

/// The file.
///
/// # Errors
/// When the database cannot be used.
pub async fn bytes(conn: &mut SqliteConnection) -> Result<Vec<u8>, Error> {
    let zone = zone_of(conn).await?;
    let (labels, names) = (Labels::find(conn).await?, people::list_names(conn).await?);
    let mut table = Table::new(&zone, COLUMNS);
    let entries = book::list_all_waste(conn).await?;
    for row in rows_of(conn, entries).await? {
        let entry = &row.entry;
        let (amount, silver) = (entry.amount, entry.amount.silver);
        // nobody knows it: the high figure alone says something
        let known = entry.basis != Basis::Unknown;
        let container = row.container.as_ref();
        let first_drop = container.and_then(|container| container.first_drop_at);
        let start = first_drop.map(|at| at.local(&zone).date());
        let removal = row.removal.as_ref();
        table.row([
            Cell::Integer(entry.number),
            Cell::Instant(entry.happened_at),
            Cell::Instant(entry.recorded_at),
            Cell::text(entry.kind.as_str()),
            Cell::text(entry.from.word()),
            label(&labels, entry.from),
            Cell::text(entry.to.word()),
            label(&labels, entry.to),
            Cell::text(row.contents.as_str()),
            Cell::scaled(amount.volume_ul, 3),
            Cell::known(row.mass_g, |grams| Cell::scaled(grams, 3)),
            Cell::known(row.sheets, |(sheets, _)| Cell::Integer(sheets)),
            Cell::known(row.sheets, |(_, area_mm2)| Cell::scaled(area_mm2, 6)),
            Cell::known(known.then_some(silver.best_ug), |best| Cell::scaled(best, 3)),
            Cell::scaled(silver.low_ug, 3),
            Cell::scaled(silver.high_ug, 3),
            Cell::known(amount.ug_per_l().filter(|_| known), |silver| Cell::scaled(silver.best_ug, 3)),
            Cell::text(entry.basis.as_str()),
            Cell::known(start, Cell::Date),
            Cell::known(row.remove_by(), Cell::Date),
            Cell::known(removal.map(|removal| removal.carrier.as_str()), Cell::text),
            Cell::known(removal.map(|removal| removal.destination.as_str()), Cell::text),
            Cell::known(row.reference(), Cell::text),
            Cell::known(removal.and_then(|removal| removal.copy_returned_on), Cell::Date),
            name(&names, entry.recorded_by),
            Cell::text(entry.remark.as_str()),
            Cell::known(first_drop, Cell::Instant),
            Cell::known(container.and_then(Container::full_at), Cell::Instant),
            Cell::known(container.and_then(Container::moved_at), Cell::Instant),
            Cell::known(row.deadline.as_ref().map(|deadline| deadline.clock), Cell::text),
            Cell::known(row.deadline.as_ref().map(|deadline| deadline.rule.as_str()), Cell::text),
            Cell::known(entry.reverses, Cell::Integer),
            Cell::known(row.taken_back_by, Cell::Integer),
        ]);
    }
    Ok(table.finish())
}
