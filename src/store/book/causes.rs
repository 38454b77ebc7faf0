//! Movements, and the records that caused them.

use sqlx::SqliteConnection;

use crate::domain::{
    book::MovementKind,
    ids::{MovementId, PersonId, SiteId},
    instant::Instant,
};

use super::Movement;
use crate::store::Error;

struct MovementRow {
    id: MovementId,
    site_id: SiteId,
    kind: String,
    happened_at: Instant,
    recorded_at: Instant,
    recorded_by: PersonId,
    remark: String,
    rests_on: Option<MovementId>,
}

impl TryFrom<MovementRow> for Movement {
    type Error = Error;
    fn try_from(row: MovementRow) -> Result<Self, Error> {
        Ok(Self {
            id: row.id,
            site: row.site_id,
            kind: kind_of(&row.kind, row.id)?,
            happened_at: row.happened_at,
            recorded_at: row.recorded_at,
            recorded_by: row.recorded_by,
            remark: row.remark,
            rests_on: row.rests_on,
        })
    }
}

fn kind_of(word: &str, id: MovementId) -> Result<MovementKind, Error> {
    let wrong = || Error::Inconsistent { table: "movement", column: "kind", id: id.to_string() };
    MovementKind::from_word(word).ok_or_else(wrong)
}

/// One movement.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_movement(conn: &mut SqliteConnection, id: MovementId) -> Result<Option<Movement>, Error> {
    let row = sqlx::query_as!(
        MovementRow,
        "SELECT id, site_id, kind, happened_at, recorded_at, recorded_by, remark, rests_on FROM movement WHERE id = ?",
        id
    )
    .fetch_optional(conn)
    .await?;
    row.map(Movement::try_from).transpose()
}

/// All movements.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_movements(conn: &mut SqliteConnection) -> Result<Vec<Movement>, Error> {
    let rows = sqlx::query_as!(
        MovementRow,
        "SELECT id, site_id, kind, happened_at, recorded_at, recorded_by, remark, rests_on FROM movement ORDER BY id"
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Movement::try_from).collect()
}

/// A movement beside the record that caused it, for [`crate::store::engine::check`].
#[derive(Clone, Copy, Debug)]
pub(in crate::store) struct CauseOf {
    pub movement: MovementId,
    pub kind: MovementKind,
    /// Whether the record says that it was taken back; `None` without a record.
    pub undone: Option<bool>,
    /// How many entries it has, and how many of them were taken back.
    pub entries: i64,
    pub reversed: i64,
}

/// Every movement beside its record. Kinds without a record of their own answer for themselves.
pub(in crate::store) async fn list_causes(conn: &mut SqliteConnection) -> Result<Vec<CauseOf>, Error> {
    let rows = sqlx::query!(
        r#"SELECT id, kind, entries AS "entries!: i64", reversed AS "reversed!: i64",
                  CASE kind
                      WHEN 'sheet' THEN (SELECT undone_at IS NOT NULL FROM sheet_run WHERE movement_id = caused.id)
                      WHEN 'removal' THEN (SELECT undone_at IS NOT NULL FROM removal WHERE movement_id = caused.id)
                      WHEN 'reading' THEN (SELECT reversed > 0 FROM silver_reading WHERE movement_id = caused.id)
                      WHEN 'recovery' THEN (SELECT reversed > 0 FROM recovery WHERE movement_id = caused.id)
                      WHEN 'scrap' THEN (SELECT reversed > 0 FROM scrap WHERE movement_id = caused.id)
                      WHEN 'discharge' THEN (SELECT reversed > 0 FROM discharge WHERE movement_id = caused.id)
                      ELSE reversed > 0
                  END AS "undone: bool"
           FROM (
               SELECT movement.id, movement.kind,
                      (SELECT count(*) FROM book_entry WHERE movement_id = movement.id) AS entries,
                      (SELECT count(*) FROM book_entry entry JOIN book_entry back ON back.reverses = entry.entry
                       WHERE entry.movement_id = movement.id) AS reversed
               FROM movement) AS caused"#
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(CauseOf {
                movement: row.id,
                kind: kind_of(&row.kind, row.id)?,
                undone: row.undone,
                entries: row.entries,
                reversed: row.reversed,
            })
        })
        .collect()
}

/// Records that name a movement of another kind: the table's word, and the movement.
pub(in crate::store) async fn list_miscaused(conn: &mut SqliteConnection) -> Result<Vec<(String, MovementId)>, Error> {
    let rows = sqlx::query!(
        r#"SELECT record AS "record!: String", id AS "id!: MovementId" FROM (
               SELECT 'a sheet' AS record, movement_id AS id, 'sheet' AS kind FROM sheet_run
               UNION ALL SELECT 'a reading', movement_id, 'reading' FROM silver_reading
               UNION ALL SELECT 'a removal', movement_id, 'removal' FROM removal
               UNION ALL SELECT 'scrap', movement_id, 'scrap' FROM scrap
               UNION ALL SELECT 'a recovery', movement_id, 'recovery' FROM recovery
               UNION ALL SELECT 'a discharge', movement_id, 'discharge' FROM discharge) AS caused
           WHERE id IS NOT NULL AND kind <> (SELECT movement.kind FROM movement WHERE movement.id = caused.id)"#
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(|row| (row.record, row.id)).collect())
}
