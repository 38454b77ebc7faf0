//! Rubrics and their criteria.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{CriterionId, RubricId, SiteId},
    instant::Instant,
    marking::{
        from_record::{HoleTolerance, Source},
        points::Points,
        rubric::{Criterion, Given, Level, Rubric},
    },
};

use crate::store::Error;

struct RubricRow {
    id: RubricId,
    site_id: SiteId,
    name: String,
    version: i64,
}

struct CriterionRow {
    id: CriterionId,
    name: String,
    description: String,
    max_milli: i64,
    from_record: Option<String>,
    hole_within_milli: i64,
}

impl CriterionRow {
    fn criterion(self, levels: Vec<Level>) -> Result<Criterion, Error> {
        let wrong = || Error::Inconsistent { table: "criterion", column: "from_record", id: self.id.to_string() };
        let source = self.from_record.as_deref().map(|word| Source::from_word(word).ok_or_else(wrong)).transpose()?;
        Ok(Criterion {
            id: self.id,
            name: self.name,
            description: self.description,
            max: Points::from_milli(self.max_milli),
            source,
            hole_within: HoleTolerance::from_milli(self.hole_within_milli),
            levels,
        })
    }
}

/// One rubric with its criteria.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: RubricId) -> Result<Option<Rubric>, Error> {
    let row = sqlx::query_as!(RubricRow, "SELECT id, site_id, name, version FROM rubric WHERE id = ?", id)
        .fetch_optional(&mut *conn)
        .await?;
    match row {
        Some(row) => Ok(Some(with_criteria(conn, row).await?)),
        None => Ok(None),
    }
}

/// A site's rubrics with their criteria, by name.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, site: SiteId) -> Result<Vec<Rubric>, Error> {
    let rows = sqlx::query_as!(
        RubricRow,
        "SELECT id, site_id, name, version FROM rubric WHERE site_id = ? ORDER BY name COLLATE NOCASE, id",
        site
    )
    .fetch_all(&mut *conn)
    .await?;
    let mut rubrics = Vec::with_capacity(rows.len());
    for row in rows {
        rubrics.push(with_criteria(conn, row).await?);
    }
    Ok(rubrics)
}

async fn with_criteria(conn: &mut SqliteConnection, row: RubricRow) -> Result<Rubric, Error> {
    let criteria = sqlx::query_as!(
        CriterionRow,
        "SELECT id, name, description, max_milli, from_record, hole_within_milli FROM criterion
         WHERE rubric_id = ? AND removed_at IS NULL ORDER BY position, id",
        row.id
    )
    .fetch_all(&mut *conn)
    .await?;
    let levels = sqlx::query!(
        "SELECT l.criterion_id, l.points_milli, l.words FROM criterion_level l JOIN criterion c ON c.id = l.criterion_id
         WHERE c.rubric_id = ? AND c.removed_at IS NULL ORDER BY l.points_milli DESC",
        row.id
    )
    .fetch_all(conn)
    .await?;
    let levels_of = |id: CriterionId| -> Vec<Level> {
        let of_it = levels.iter().filter(|level| level.criterion_id == id);
        of_it
            .map(|level| Level { points: Points::from_milli(level.points_milli), words: level.words.clone() })
            .collect()
    };
    let criteria: Result<Vec<Criterion>, Error> = criteria
        .into_iter()
        .map(|row| {
            let levels = levels_of(row.id);
            row.criterion(levels)
        })
        .collect();
    Ok(Rubric { id: row.id, site: row.site_id, name: row.name, criteria: criteria?, version: row.version })
}

/// How many sessions of this server are marked by a rubric.
///
/// # Errors
/// When the database cannot be used.
pub async fn count_sessions(conn: &mut SqliteConnection, id: RubricId) -> Result<i64, Error> {
    let row = sqlx::query!(r#"SELECT count(*) AS "n!: i64" FROM lab_session WHERE rubric_id = ?"#, id)
        .fetch_one(conn)
        .await?;
    Ok(row.n)
}

/// What was already marked under a rubric: it limits what may still be changed.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_given(conn: &mut SqliteConnection, id: RubricId) -> Result<Given, Error> {
    let highest = sqlx::query!(
        r#"SELECT m.criterion_id AS "criterion!: CriterionId", max(coalesce(m.points_milli, 0)) AS "most!: i64"
           FROM mark m JOIN criterion c ON c.id = m.criterion_id
           WHERE c.rubric_id = ? AND (m.points_milli IS NOT NULL OR m.left_out OR m.comment <> '')
           GROUP BY m.criterion_id"#,
        id
    )
    .fetch_all(&mut *conn)
    .await?;
    let given_back = sqlx::query!(
        r#"SELECT count(*) AS "n!: i64" FROM mark_sheet s JOIN lab_session l ON l.id = s.lab_session_id
           WHERE l.rubric_id = ? AND s.released_at IS NOT NULL"#,
        id
    )
    .fetch_one(conn)
    .await?;
    Ok(Given {
        highest: highest.into_iter().map(|row| (row.criterion, Points::from_milli(row.most))).collect(),
        given_back: given_back.n,
    })
}

/// Whether another rubric of the site has this name, whatever the case.
///
/// # Errors
/// When the database cannot be used.
pub async fn is_name_taken(
    conn: &mut SqliteConnection,
    site: SiteId,
    name: &str,
    except: RubricId,
) -> Result<bool, Error> {
    let name = name.to_lowercase();
    let rows = sqlx::query!("SELECT id, name FROM rubric WHERE site_id = ?", site).fetch_all(conn).await?;
    // compared here: SQLite folds the case of ASCII letters only
    Ok(rows.into_iter().any(|row| row.id != except && row.name.to_lowercase() == name))
}

/// Stores a new rubric with its criteria.
///
/// # Errors
/// [`Error::Constraint`] when two criteria share a name.
pub async fn insert(tx: &mut SqliteConnection, rubric: &Rubric) -> Result<(), Error> {
    sqlx::query!("INSERT INTO rubric (id, site_id, name) VALUES (?, ?, ?)", rubric.id, rubric.site, rubric.name)
        .execute(&mut *tx)
        .await?;
    for (criterion, position) in rubric.criteria.iter().zip(1..) {
        upsert_criterion(tx, rubric.id, criterion, position).await?;
    }
    Ok(())
}

/// Stores an edited rubric if its version still stands; gives whether it did. Criteria that are
/// no longer in it are taken out, never deleted.
///
/// # Errors
/// [`Error::Constraint`] when two criteria share a name.
pub async fn update(tx: &mut SqliteConnection, rubric: &Rubric, at: Instant) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE rubric SET name = ?, version = version + 1 WHERE id = ? AND version = ?",
        rubric.name,
        rubric.id,
        rubric.version
    )
    .execute(&mut *tx)
    .await?;
    if done.rows_affected() == 0 {
        return Ok(false);
    }
    // all out first, then back in what stays: two criteria may have swapped their names
    sqlx::query!("UPDATE criterion SET removed_at = ? WHERE rubric_id = ? AND removed_at IS NULL", at, rubric.id)
        .execute(&mut *tx)
        .await?;
    for (criterion, position) in rubric.criteria.iter().zip(1..) {
        upsert_criterion(tx, rubric.id, criterion, position).await?;
    }
    Ok(true)
}

async fn upsert_criterion(
    tx: &mut SqliteConnection,
    rubric: RubricId,
    criterion: &Criterion,
    position: i64,
) -> Result<(), Error> {
    let (max, source) = (criterion.max.as_milli(), criterion.source.map(Source::as_str));
    let within = criterion.hole_within.as_milli();
    sqlx::query!(
        "INSERT INTO criterion (id, rubric_id, position, name, description, max_milli, from_record, hole_within_milli)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)
         ON CONFLICT (id) DO UPDATE SET position = excluded.position, name = excluded.name,
             description = excluded.description, max_milli = excluded.max_milli,
             from_record = excluded.from_record, hole_within_milli = excluded.hole_within_milli, removed_at = NULL",
        criterion.id,
        rubric,
        position,
        criterion.name,
        criterion.description,
        max,
        source,
        within
    )
    .execute(&mut *tx)
    .await?;
    sqlx::query!("DELETE FROM criterion_level WHERE criterion_id = ?", criterion.id).execute(&mut *tx).await?;
    for level in &criterion.levels {
        let points = level.points.as_milli();
        sqlx::query!(
            "INSERT INTO criterion_level (criterion_id, points_milli, words) VALUES (?, ?, ?)",
            criterion.id,
            points,
            level.words
        )
        .execute(&mut *tx)
        .await?;
    }
    Ok(())
}

/// Deletes a rubric that no session uses and nothing was marked by.
///
/// # Errors
/// [`Error::Constraint`] when a session or a mark still names it.
pub async fn delete(tx: &mut SqliteConnection, id: RubricId) -> Result<(), Error> {
    sqlx::query!(
        "DELETE FROM criterion_level WHERE criterion_id IN (SELECT id FROM criterion WHERE rubric_id = ?)",
        id
    )
    .execute(&mut *tx)
    .await?;
    sqlx::query!("DELETE FROM criterion WHERE rubric_id = ?", id).execute(&mut *tx).await?;
    sqlx::query!("DELETE FROM rubric WHERE id = ?", id).execute(tx).await?;
    Ok(())
}
