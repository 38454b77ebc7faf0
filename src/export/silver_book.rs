//! `silver-book.csv`: one row an entry, in the order in which they were written. The laws of the book can be
//! added up from this file alone, in that order and in the order in which things happened.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::{
    domain::ids::MovementId,
    store::{Error, book, people::names as people},
};

use super::{
    Cell, Table,
    labels::{Labels, label, name},
    zone_of,
};

/// The columns, in their order.
pub const COLUMNS: [&str; 18] = [
    "entry",
    "happened_at",
    "recorded_at",
    "kind",
    "from",
    "from_id",
    "to",
    "to_id",
    "reverses",
    "volume_ul",
    "silver_ug",
    "silver_low_ug",
    "silver_high_ug",
    "basis",
    "recorded_by",
    "remark",
    "act",
    "rests_on",
];

/// The file.
///
/// # Errors
/// When the database cannot be used.
pub async fn bytes(conn: &mut SqliteConnection) -> Result<Vec<u8>, Error> {
    let zone = zone_of(conn).await?;
    let (labels, names) = (Labels::find(conn).await?, people::list_names(conn).await?);
    let mut table = Table::new(&zone, COLUMNS);
    let entries = book::list(conn).await?;
    // an act goes by the number of its first entry
    let mut acts: HashMap<MovementId, i64> = HashMap::new();
    for entry in &entries {
        acts.entry(entry.movement).or_insert(entry.number);
    }
    let rests_on: HashMap<MovementId, MovementId> = book::list_movements(conn)
        .await?
        .into_iter()
        .filter_map(|movement| Some((movement.id, movement.rests_on?)))
        .collect();
    for entry in entries {
        let silver = entry.amount.silver;
        table.row([
            Cell::Integer(entry.number),
            Cell::Instant(entry.happened_at),
            Cell::Instant(entry.recorded_at),
            Cell::text(entry.kind.as_str()),
            Cell::text(entry.from.word()),
            label(&labels, entry.from),
            Cell::text(entry.to.word()),
            label(&labels, entry.to),
            Cell::known(entry.reverses, Cell::Integer),
            Cell::Integer(entry.amount.volume_ul),
            Cell::Integer(silver.best_ug),
            Cell::Integer(silver.low_ug),
            Cell::Integer(silver.high_ug),
            Cell::text(entry.basis.as_str()),
            name(&names, entry.recorded_by),
            Cell::text(entry.remark),
            Cell::known(acts.get(&entry.movement).copied(), Cell::Integer),
            Cell::known(rests_on.get(&entry.movement).and_then(|on| acts.get(on)).copied(), Cell::Integer),
        ]);
    }
    Ok(table.finish())
}
