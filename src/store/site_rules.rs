//! The site's own removal rules for waste.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{PersonId, SiteId, SiteRuleId},
    instant::Instant,
    site_rule::{RuleClock, SiteRule, Span},
};

use super::Error;

struct SiteRuleRow {
    id: SiteRuleId,
    site_id: SiteId,
    clock: String,
    span: i64,
    span_unit: String,
    source: String,
    entered_at: Instant,
}

impl TryFrom<SiteRuleRow> for SiteRule {
    type Error = Error;
    fn try_from(row: SiteRuleRow) -> Result<Self, Error> {
        let wrong = |column| Error::Inconsistent { table: "site_rule", column, id: row.id.to_string() };
        Ok(Self {
            id: row.id,
            site: row.site_id,
            clock: RuleClock::from_word(&row.clock).ok_or_else(|| wrong("clock"))?,
            span: Span::from_parts(row.span, &row.span_unit).ok_or_else(|| wrong("span"))?,
            source: row.source,
            entered_at: row.entered_at,
        })
    }
}

/// The rules in force, oldest first. Empty: no deadline was entered.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<SiteRule>, Error> {
    let rows = sqlx::query_as!(
        SiteRuleRow,
        "SELECT id, site_id, clock, span, span_unit, source, entered_at
         FROM site_rule WHERE ended_at IS NULL ORDER BY entered_at, id"
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(SiteRule::try_from).collect()
}

/// One rule in force.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: SiteRuleId) -> Result<Option<SiteRule>, Error> {
    let row = sqlx::query_as!(
        SiteRuleRow,
        "SELECT id, site_id, clock, span, span_unit, source, entered_at
         FROM site_rule WHERE id = ? AND ended_at IS NULL",
        id
    )
    .fetch_optional(conn)
    .await?;
    row.map(SiteRule::try_from).transpose()
}

/// Stores a new rule.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, rule: &SiteRule, entered_by: PersonId) -> Result<(), Error> {
    let (clock, (span, unit)) = (rule.clock.as_str(), rule.span.parts());
    sqlx::query!(
        "INSERT INTO site_rule (id, site_id, clock, span, span_unit, source, entered_by, entered_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        rule.id,
        rule.site,
        clock,
        span,
        unit,
        rule.source,
        entered_by,
        rule.entered_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Ends a rule: it stays on record, no longer in force. Gives whether it was in force.
///
/// # Errors
/// When the database cannot be used.
pub async fn end(tx: &mut SqliteConnection, id: SiteRuleId, at: Instant) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE site_rule SET ended_at = ?, version = version + 1 WHERE id = ? AND ended_at IS NULL",
        at,
        id
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}
