//! `chemistry.csv`: one row a batch.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        baths::{batch::BatchState, condition::used_share},
        book::Vessel,
    },
    store::{Error, baths::batches, people::names as people},
};

use super::{
    Cell, Table,
    labels::{Labels, name},
    zone_of,
};

/// The columns, in their order.
pub const COLUMNS: [&str; 14] = [
    "batch",
    "kind",
    "product",
    "parts",
    "volume_ml",
    "mixed_at",
    "mixed_by",
    "state",
    "area_m2",
    "used_share",
    "silver_mg",
    "silver_mg_per_l",
    "retired_at",
    "container",
];

/// The file. Silver is what stands in a batch, or stood in it when it was poured away.
///
/// # Errors
/// When the database cannot be used.
pub async fn bytes(conn: &mut SqliteConnection) -> Result<Vec<u8>, Error> {
    let zone = zone_of(conn).await?;
    let (labels, names) = (Labels::find(conn).await?, people::list_names(conn).await?);
    let mut table = Table::new(&zone, COLUMNS);
    for batch in batches::list(conn).await? {
        let load = batches::load(conn, batch.id).await?;
        let (state, held) = if batch.in_use() { ("in use", load.holds) } else { ("retired", load.retired) };
        let into = match batch.state {
            BatchState::Retired { into, .. } => into.and_then(|id| labels.of(Vessel::Container(id))),
            BatchState::InUse => None,
        };
        table.row([
            Cell::Integer(batch.label_number),
            Cell::text(batch.kind.as_str()),
            Cell::text(batch.product_name.clone()),
            Cell::text(batch.parts()),
            Cell::scaled(batch.volume_ul, 3),
            Cell::Instant(batch.mixed_at),
            name(&names, batch.mixed_by),
            Cell::text(state),
            Cell::scaled(load.area_mm2, 6),
            Cell::known(used_share(&batch, &load), |share| Cell::rounded(share, 4)),
            Cell::scaled(held.silver.best_ug, 3),
            Cell::known(held.ug_per_l(), |silver| Cell::scaled(silver.best_ug, 3)),
            Cell::known(batch.retired_at(), Cell::Instant),
            Cell::known(into, Cell::Integer),
        ]);
    }
    Ok(table.finish())
}
