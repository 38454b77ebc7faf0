//! Statements of a year as they were handed out: what they said then, whatever the book says since.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::domain::{
    book::{Amount, Silver},
    ids::{GivenStatementId, PersonId, SiteId},
    instant::Instant,
    waste::{
        container::Contents,
        year_statement::{Figure, Line, YearStatement},
    },
};

use crate::store::Error;

/// A statement as it was handed out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GivenStatement {
    /// Its id.
    pub id: GivenStatementId,
    /// To whom.
    pub to: String,
    /// When.
    pub at: Instant,
    /// By whom.
    pub by: PersonId,
    /// The last entry that was in the book then.
    pub last_entry: i64,
    /// What it said.
    pub said: YearStatement,
}

/// Keeps a statement as it is handed out.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, site: SiteId, given: &GivenStatement) -> Result<(), Error> {
    let year = i64::from(given.said.year);
    sqlx::query!(
        "INSERT INTO given_statement (id, site_id, year, given_to, given_at, given_by, last_entry)
         VALUES (?, ?, ?, ?, ?, ?, ?)",
        given.id,
        site,
        year,
        given.to,
        given.at,
        given.by,
        given.last_entry
    )
    .execute(&mut *tx)
    .await?;
    for (contents, line) in &given.said.lines {
        for figure in Figure::ALL {
            let (contents, word, amount) = (contents.as_str(), figure.as_str(), line.figure(figure));
            let unknown = i64::from(line.silver_unknown);
            sqlx::query!(
                "INSERT INTO given_figure (given_statement_id, contents, figure, volume_ul, silver_ug, silver_low_ug,
                     silver_high_ug, silver_unknown)
                 VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                given.id,
                contents,
                word,
                amount.volume_ul,
                amount.silver.best_ug,
                amount.silver.low_ug,
                amount.silver.high_ug,
                unknown
            )
            .execute(&mut *tx)
            .await?;
        }
    }
    Ok(())
}

/// All of them, the first given first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<GivenStatement>, Error> {
    let rows = sqlx::query!(
        "SELECT id, year, given_to, given_at, given_by, last_entry FROM given_statement ORDER BY given_at, id"
    )
    .fetch_all(&mut *conn)
    .await?;
    let mut lines = lines(conn).await?;
    rows.into_iter()
        .map(|row| {
            let wrong = || Error::Inconsistent { table: "given_statement", column: "year", id: row.id.to_string() };
            let year = i16::try_from(row.year).map_err(|_| wrong())?;
            let lines = lines.remove(&row.id).unwrap_or_default().into_iter().collect();
            Ok(GivenStatement {
                id: row.id,
                to: row.given_to,
                at: row.given_at,
                by: row.given_by,
                last_entry: row.last_entry,
                said: YearStatement::of(year, lines),
            })
        })
        .collect()
}

/// The lines of each.
async fn lines(conn: &mut SqliteConnection) -> Result<BTreeMap<GivenStatementId, BTreeMap<Contents, Line>>, Error> {
    let rows = sqlx::query!(
        "SELECT given_statement_id, contents, figure, volume_ul, silver_ug, silver_low_ug, silver_high_ug, silver_unknown
         FROM given_figure"
    )
    .fetch_all(conn)
    .await?;
    let mut lines: BTreeMap<GivenStatementId, BTreeMap<Contents, Line>> = BTreeMap::new();
    for row in rows {
        let wrong =
            |column| Error::Inconsistent { table: "given_figure", column, id: row.given_statement_id.to_string() };
        let contents = Contents::from_word(&row.contents).ok_or_else(|| wrong("contents"))?;
        let figure = Figure::from_word(&row.figure).ok_or_else(|| wrong("figure"))?;
        let silver = Silver { best_ug: row.silver_ug, low_ug: row.silver_low_ug, high_ug: row.silver_high_ug };
        let line = lines.entry(row.given_statement_id).or_default().entry(contents).or_default();
        *line.figure_mut(figure) = Amount { volume_ul: row.volume_ul, silver };
        line.silver_unknown = row.silver_unknown != 0;
    }
    Ok(lines)
}
