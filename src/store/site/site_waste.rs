//! What a site entered about its waste beside removal rules, and what it generates in a month.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{PersonId, SiteId},
    instant::Instant,
    site::site_waste::{SiteMonth, SiteWaste},
};

use crate::store::Error;

/// What a site entered; nothing entered when it has no row.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, site: SiteId) -> Result<SiteWaste, Error> {
    let row = sqlx::query!(
        "SELECT look_every_days, look_source, keep_years, keep_source, turnover_percent, turnover_source,
                next_removal_on, version
         FROM site_waste WHERE site_id = ?",
        site
    )
    .fetch_optional(conn)
    .await?;
    let Some(row) = row else { return Ok(SiteWaste::none(site)) };
    let wrong = |_| Error::Inconsistent { table: "site_waste", column: "next_removal_on", id: site.to_string() };
    Ok(SiteWaste {
        site,
        look_every_days: row.look_every_days,
        look_source: row.look_source,
        keep_years: row.keep_years,
        keep_source: row.keep_source,
        turnover_percent: row.turnover_percent,
        turnover_source: row.turnover_source,
        next_removal_on: row.next_removal_on.as_deref().map(str::parse).transpose().map_err(wrong)?,
        version: row.version,
    })
}

/// Stores what was entered if its version still stands (0 for the first time); gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn save(tx: &mut SqliteConnection, waste: &SiteWaste) -> Result<bool, Error> {
    let next = waste.next_removal_on.map(|date| date.to_string());
    let done = sqlx::query!(
        "INSERT INTO site_waste (site_id, look_every_days, look_source, keep_years, keep_source, turnover_percent,
             turnover_source, next_removal_on)
         SELECT ?1, ?2, ?3, ?4, ?5, ?8, ?9, ?6 WHERE ?7 = 0 OR EXISTS (SELECT 1 FROM site_waste WHERE site_id = ?1)
         ON CONFLICT (site_id) DO UPDATE SET look_every_days = ?2, look_source = ?3, keep_years = ?4,
             keep_source = ?5, turnover_percent = ?8, turnover_source = ?9, next_removal_on = ?6, version = version + 1
         WHERE version = ?7",
        waste.site,
        waste.look_every_days,
        waste.look_source,
        waste.keep_years,
        waste.keep_source,
        next,
        waste.version,
        waste.turnover_percent,
        waste.turnover_source
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

struct MonthRow {
    month: String,
    nonacute_g: i64,
    acute_g: i64,
    source: String,
    version: i64,
}

/// The months entered, newest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_months(conn: &mut SqliteConnection, site: SiteId) -> Result<Vec<SiteMonth>, Error> {
    let rows = sqlx::query_as!(
        MonthRow,
        "SELECT month, nonacute_g, acute_g, source, version FROM site_month WHERE site_id = ? ORDER BY month DESC",
        site
    )
    .fetch_all(conn)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| SiteMonth {
            month: row.month,
            nonacute_g: row.nonacute_g,
            acute_g: row.acute_g,
            source: row.source,
            version: row.version,
        })
        .collect())
}

/// Stores a month, in the place of what was entered for it before.
///
/// # Errors
/// When the database cannot be used.
pub async fn save_month(
    tx: &mut SqliteConnection,
    site: SiteId,
    month: &SiteMonth,
    (by, at): (PersonId, Instant),
) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO site_month (site_id, month, nonacute_g, acute_g, source, entered_by, entered_at)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
         ON CONFLICT (site_id, month) DO UPDATE SET nonacute_g = ?3, acute_g = ?4, source = ?5, entered_by = ?6,
             entered_at = ?7, version = version + 1",
        site,
        month.month,
        month.nonacute_g,
        month.acute_g,
        month.source,
        by,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}
