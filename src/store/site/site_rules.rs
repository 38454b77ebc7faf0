//! The site's own removal rules for waste.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{PersonId, SiteId, SiteRuleId},
    instant::Instant,
    site::site_rule::{Asks, PAST_VOLUME, RuleClock, SiteRule, Span},
};

use crate::store::Error;

struct SiteRuleRow {
    id: SiteRuleId,
    site_id: SiteId,
    clock: String,
    span: Option<i64>,
    span_unit: Option<String>,
    volume_ul: Option<i64>,
    or_next_visit: i64,
    source: String,
    entered_at: Instant,
}

impl TryFrom<SiteRuleRow> for SiteRule {
    type Error = Error;
    fn try_from(row: SiteRuleRow) -> Result<Self, Error> {
        let wrong = |column| Error::Inconsistent { table: "site_rule", column, id: row.id.to_string() };
        let span = match (row.span, row.span_unit.as_deref()) {
            (Some(number), Some(unit)) => Some(Span::from_parts(number, unit).ok_or_else(|| wrong("span"))?),
            (None, None) => None,
            _ => return Err(wrong("span")),
        };
        let asks = match (row.clock.as_str(), row.volume_ul, span) {
            (PAST_VOLUME, Some(volume_ul), within) => Asks::AtMost { volume_ul, within },
            (clock, None, Some(span)) => {
                Asks::GoneWithin { clock: RuleClock::from_word(clock).ok_or_else(|| wrong("clock"))?, span }
            }
            _ => return Err(wrong("clock")),
        };
        Ok(Self {
            id: row.id,
            site: row.site_id,
            asks,
            or_next_visit: row.or_next_visit != 0,
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
        "SELECT id, site_id, clock, span, span_unit, volume_ul, or_next_visit, source, entered_at
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
        "SELECT id, site_id, clock, span, span_unit, volume_ul, or_next_visit, source, entered_at
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
    let (clock, span, volume_ul) = match rule.asks {
        Asks::GoneWithin { clock, span } => (clock.as_str(), Some(span), None),
        Asks::AtMost { volume_ul, within } => (PAST_VOLUME, within, Some(volume_ul)),
    };
    let (span, unit) = span.map(Span::parts).unzip();
    let or_next_visit = i64::from(rule.or_next_visit);
    sqlx::query!(
        "INSERT INTO site_rule (id, site_id, clock, span, span_unit, volume_ul, or_next_visit, source, entered_by,
             entered_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        rule.id,
        rule.site,
        clock,
        span,
        unit,
        volume_ul,
        or_next_visit,
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
