//! Papers and films of the stockroom.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{PaperId, SiteId},
    instant::Instant,
    stock::{
        colours_seen::ColoursSeen,
        paper::{Paper, PaperBase, PaperKind},
        reciprocity_lines::ReciprocityLines,
    },
};

use crate::store::Error;

struct PaperRow {
    id: PaperId,
    site_id: SiteId,
    kind: String,
    base: String,
    sees: String,
    name: String,
    exposure_index_milli: i64,
    index_from: String,
    iso_speed_milli: Option<i64>,
    daylight_factor_milli: i64,
    reciprocity_table: String,
    reciprocity_milli: i64,
    reciprocity_threshold_ms: i64,
    silver_ug_per_m2: i64,
    silver_low_ug_per_m2: i64,
    silver_high_ug_per_m2: i64,
    silver_source: String,
    carry_over_ul_per_m2: i64,
    remark: String,
    version: i64,
}

impl TryFrom<PaperRow> for Paper {
    type Error = Error;
    fn try_from(row: PaperRow) -> Result<Self, Error> {
        let wrong = |column| Error::Inconsistent { table: "paper", column, id: row.id.to_string() };
        let kind = PaperKind::from_word(&row.kind).ok_or_else(|| wrong("kind"))?;
        let base = PaperBase::from_word(&row.base).ok_or_else(|| wrong("base"))?;
        let sees = ColoursSeen::from_word(&row.sees).ok_or_else(|| wrong("sees"))?;
        let table = ReciprocityLines::from_stored(&row.reciprocity_table);
        let reciprocity_table = table.ok_or_else(|| wrong("reciprocity_table"))?;
        Ok(Self {
            id: row.id,
            site: row.site_id,
            kind,
            base,
            sees,
            name: row.name,
            exposure_index_milli: row.exposure_index_milli,
            index_from: row.index_from,
            iso_speed_milli: row.iso_speed_milli,
            daylight_factor_milli: row.daylight_factor_milli,
            reciprocity_table,
            reciprocity_milli: row.reciprocity_milli,
            reciprocity_threshold_ms: row.reciprocity_threshold_ms,
            silver_ug_per_m2: row.silver_ug_per_m2,
            silver_low_ug_per_m2: row.silver_low_ug_per_m2,
            silver_high_ug_per_m2: row.silver_high_ug_per_m2,
            silver_source: row.silver_source,
            carry_over_ul_per_m2: row.carry_over_ul_per_m2,
            remark: row.remark,
            version: row.version,
        })
    }
}

/// One paper, put away or not.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: PaperId) -> Result<Option<Paper>, Error> {
    let row = sqlx::query_as!(
        PaperRow,
        "SELECT id, site_id, kind, base, sees, name, exposure_index_milli, reciprocity_milli, reciprocity_threshold_ms,
                silver_ug_per_m2, silver_low_ug_per_m2, silver_high_ug_per_m2, silver_source,
                carry_over_ul_per_m2, remark, version, index_from, iso_speed_milli, daylight_factor_milli,
                reciprocity_table
         FROM paper WHERE id = ?",
        id
    )
    .fetch_optional(conn)
    .await?;
    row.map(Paper::try_from).transpose()
}

/// The papers on the shelf, by name.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Paper>, Error> {
    let rows = sqlx::query_as!(
        PaperRow,
        "SELECT id, site_id, kind, base, sees, name, exposure_index_milli, reciprocity_milli, reciprocity_threshold_ms,
                silver_ug_per_m2, silver_low_ug_per_m2, silver_high_ug_per_m2, silver_source,
                carry_over_ul_per_m2, remark, version, index_from, iso_speed_milli, daylight_factor_milli,
                reciprocity_table
         FROM paper WHERE put_away_at IS NULL ORDER BY kind DESC, name, id"
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Paper::try_from).collect()
}

/// The papers put away, by name.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_put_away(conn: &mut SqliteConnection) -> Result<Vec<Paper>, Error> {
    let rows = sqlx::query_as!(
        PaperRow,
        "SELECT id, site_id, kind, base, sees, name, exposure_index_milli, reciprocity_milli, reciprocity_threshold_ms,
                silver_ug_per_m2, silver_low_ug_per_m2, silver_high_ug_per_m2, silver_source,
                carry_over_ul_per_m2, remark, version, index_from, iso_speed_milli, daylight_factor_milli,
                reciprocity_table
         FROM paper WHERE put_away_at IS NOT NULL ORDER BY kind DESC, name, id"
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Paper::try_from).collect()
}

/// Stores a new paper.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, paper: &Paper) -> Result<(), Error> {
    let (kind, base, sees) = (paper.kind.as_str(), paper.base.as_str(), paper.sees.as_str());
    let reciprocity_table = paper.reciprocity_table.as_stored();
    sqlx::query!(
        "INSERT INTO paper (id, site_id, kind, base, sees, name, exposure_index_milli, reciprocity_milli,
             reciprocity_threshold_ms, silver_ug_per_m2, silver_low_ug_per_m2, silver_high_ug_per_m2,
             silver_source, carry_over_ul_per_m2, remark, index_from, iso_speed_milli, daylight_factor_milli,
             reciprocity_table)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        paper.id,
        paper.site,
        kind,
        base,
        sees,
        paper.name,
        paper.exposure_index_milli,
        paper.reciprocity_milli,
        paper.reciprocity_threshold_ms,
        paper.silver_ug_per_m2,
        paper.silver_low_ug_per_m2,
        paper.silver_high_ug_per_m2,
        paper.silver_source,
        paper.carry_over_ul_per_m2,
        paper.remark,
        paper.index_from,
        paper.iso_speed_milli,
        paper.daylight_factor_milli,
        reciprocity_table
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores an edited paper if its version still stands; gives whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, paper: &Paper) -> Result<bool, Error> {
    let (kind, base, sees) = (paper.kind.as_str(), paper.base.as_str(), paper.sees.as_str());
    let reciprocity_table = paper.reciprocity_table.as_stored();
    let done = sqlx::query!(
        "UPDATE paper SET kind = ?, base = ?, sees = ?, name = ?, exposure_index_milli = ?, reciprocity_milli = ?,
             reciprocity_threshold_ms = ?, silver_ug_per_m2 = ?, silver_low_ug_per_m2 = ?,
             silver_high_ug_per_m2 = ?, silver_source = ?, carry_over_ul_per_m2 = ?, remark = ?,
             index_from = ?, iso_speed_milli = ?, daylight_factor_milli = ?, reciprocity_table = ?,
             version = version + 1
         WHERE id = ? AND version = ?",
        kind,
        base,
        sees,
        paper.name,
        paper.exposure_index_milli,
        paper.reciprocity_milli,
        paper.reciprocity_threshold_ms,
        paper.silver_ug_per_m2,
        paper.silver_low_ug_per_m2,
        paper.silver_high_ug_per_m2,
        paper.silver_source,
        paper.carry_over_ul_per_m2,
        paper.remark,
        paper.index_from,
        paper.iso_speed_milli,
        paper.daylight_factor_milli,
        reciprocity_table,
        paper.id,
        paper.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Puts a paper away: no longer offered, still named by records.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_away(tx: &mut SqliteConnection, id: PaperId, at: Instant) -> Result<(), Error> {
    sqlx::query!("UPDATE paper SET put_away_at = ?, version = version + 1 WHERE id = ?", at, id).execute(tx).await?;
    Ok(())
}

/// Puts a paper back on the shelf.
///
/// # Errors
/// When the database cannot be used.
pub async fn take_out(tx: &mut SqliteConnection, id: PaperId) -> Result<(), Error> {
    sqlx::query!("UPDATE paper SET put_away_at = NULL, version = version + 1 WHERE id = ?", id).execute(tx).await?;
    Ok(())
}
