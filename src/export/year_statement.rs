//! `year-statement.csv`: one row a kind of contents a calendar year, and one for all of them.

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        book::Silver,
        instant::Instant,
        waste::year_statement::{Figure, Line, YearStatement},
    },
    store::{Error, book, people::change_log},
};

use super::{Cell, Table, zone_of};

/// The columns, in their order.
pub const COLUMNS: [&str; 22] = [
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
    "washed_silver_mg",
];

/// The statements of all years there are, on through `until`, oldest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn statements(conn: &mut SqliteConnection, zone: &TimeZone, until: i16) -> Result<Vec<YearStatement>, Error> {
    let source = book::WasteSource::find(conn).await?;
    Ok(source.years(zone, until).into_iter().map(|year| source.statement(year, zone)).collect())
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
            table.row(cells(statement.year, contents.as_str(), line, None));
        }
        let washed = washed_in(conn, &zone, statement.year, Instant::LAST).await?;
        table.row(cells(statement.year, "all", &statement.total, Some(washed)));
    }
    Ok(table.finish())
}

/// The silver that sheets carried into the wash in a year, less what was collected from it.
///
/// # Errors
/// When the database cannot be used.
pub async fn washed_in(
    conn: &mut SqliteConnection,
    zone: &TimeZone,
    year: i16,
    known_before: Instant,
) -> Result<Silver, Error> {
    let new_year = |year: i16| Instant::from_local(&format!("{year:04}-01-01T00:00"), zone);
    match (new_year(year), new_year(year + 1)) {
        (Ok(from), Ok(before)) => book::washed(conn, (from, before), known_before).await,
        _ => Ok(Silver::NONE),
    }
}

fn cells(year: i16, contents: &str, line: &Line, washed: Option<Silver>) -> Vec<Cell> {
    let columns = Figure::ALL.map(|figure| line.figure(figure));
    let mut cells = vec![Cell::Integer(i64::from(year)), Cell::text(contents)];
    cells.extend(columns.iter().map(|amount| Cell::scaled(amount.volume_ul, 3)));
    cells.extend(columns.iter().map(|amount| Cell::scaled(amount.silver.best_ug, 3)));
    cells.push(Cell::scaled(line.end.silver.least_ug(), 3));
    cells.push(Cell::scaled(line.end.silver.most_ug(), 3));
    cells.push(Cell::text(if line.silver_unknown { "yes" } else { "no" }));
    cells.push(Cell::known(washed, |silver| Cell::scaled(silver.best_ug, 3)));
    cells
}
