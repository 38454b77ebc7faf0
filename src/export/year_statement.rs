//! `year-statement.csv`: one row a kind of contents a calendar year, and one for all of them.

use std::collections::BTreeMap;

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        container::Contents,
        ids::ContainerId,
        year_statement::{Line, YearStatement, statement, years},
    },
    store::{Error, book, change_log, containers},
};

use super::{Cell, Table, zone_of};

/// The columns, in their order.
pub const COLUMNS: [&str; 21] = [
    "year",
    "contents",
    "start_ml",
    "generated_ml",
    "from_other_kinds_ml",
    "removed_ml",
    "recovered_ml",
    "discharged_ml",
    "written_off_ml",
    "end_ml",
    "start_silver_mg",
    "generated_silver_mg",
    "from_other_kinds_silver_mg",
    "removed_silver_mg",
    "recovered_silver_mg",
    "discharged_silver_mg",
    "written_off_silver_mg",
    "end_silver_mg",
    "end_silver_low_mg",
    "end_silver_high_mg",
    "silver_unknown",
];

/// The statements of all years there are, on through `until`, oldest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn statements(conn: &mut SqliteConnection, zone: &TimeZone, until: i16) -> Result<Vec<YearStatement>, Error> {
    let entries = book::list_all_waste(conn).await?;
    let contents: BTreeMap<ContainerId, Contents> =
        containers::list(conn).await?.into_iter().map(|container| (container.id, container.contents)).collect();
    Ok(years(&entries, zone, until).into_iter().map(|year| statement(year, &entries, &contents, zone)).collect())
}

/// The file, on through the year in which anybody last wrote anything: the same database gives the same
/// file whenever it is asked.
///
/// # Errors
/// When the database cannot be used.
pub async fn bytes(conn: &mut SqliteConnection) -> Result<Vec<u8>, Error> {
    let zone = zone_of(conn).await?;
    let mut table = Table::new(&zone, COLUMNS);
    let newest = change_log::find_newest_at(conn).await?;
    let until = newest.map_or(i16::MIN, |at| at.local(&zone).date().year());
    for statement in statements(conn, &zone, until).await? {
        for (contents, line) in &statement.lines {
            table.row(cells(statement.year, contents.as_str(), line));
        }
        table.row(cells(statement.year, "all", &statement.total));
    }
    Ok(table.finish())
}

fn cells(year: i16, contents: &str, line: &Line) -> Vec<Cell> {
    let columns = [
        line.start,
        line.generated,
        line.from_other_kinds,
        line.removed,
        line.recovered,
        line.discharged,
        line.written_off,
        line.end,
    ];
    let mut cells = vec![Cell::Integer(i64::from(year)), Cell::text(contents)];
    cells.extend(columns.iter().map(|amount| Cell::scaled(amount.volume_ul, 3)));
    cells.extend(columns.iter().map(|amount| Cell::scaled(amount.silver.best_ug, 3)));
    cells.push(Cell::scaled(line.end.silver.least_ug(), 3));
    cells.push(Cell::scaled(line.end.silver.most_ug(), 3));
    cells.push(Cell::text(if line.silver_unknown { "yes" } else { "no" }));
    cells
}
