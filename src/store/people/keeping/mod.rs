//! A section that is over: archived, so that nothing in it changes any more, and later its people
//! [forgotten](forget).
//!
//! Triggers of the schema refuse every change in an archived section, whichever page asks.

use sqlx::SqliteConnection;

use crate::domain::{ids::SectionId, instant::Instant, people::actor::Actor};

use super::change_log;
use crate::store::Error;

mod forget;

pub use forget::forget;

/// Where a section is in its life.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Keeping {
    /// Since when nothing can be changed.
    pub archived_at: Option<Instant>,
    /// When its people were forgotten.
    pub forgotten_at: Option<Instant>,
    /// When the file was written anew since, so that nothing of them is left in it or its log.
    pub overwritten_at: Option<Instant>,
}

impl Keeping {
    /// In words, for whoever opens a page of it; empty while it is not archived.
    pub fn words(self) -> &'static str {
        match (self.archived_at, self.forgotten_at) {
            (None, None) => "",
            (_, None) => "archived",
            (_, Some(_)) => "archived, its people forgotten",
        }
    }
}

/// What the change log says once the file was written anew.
const OVERWRITTEN: &str = "file written anew after people were forgotten";

/// What a section holds: what goes when its people are forgotten, and what stays.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Held {
    /// Students with their names, numbers and addresses.
    pub people: i64,
    /// Cells with marks or comments.
    pub marks: i64,
    /// Reports, drafts too.
    pub reports: i64,
    /// Pictures in them.
    pub pictures: i64,
    /// Tries of own figures.
    pub tries: i64,
    /// Remarks beside cameras, holes, exposures, prints and box counts, reasons why a sheet was taken
    /// back or left out, and the lamps of prints.
    pub remarks: i64,
    /// Calls for help and words told to all benches.
    pub told: i64,
    /// Exposures, which stay without their makers.
    pub exposures: i64,
    /// Prints, which stay too.
    pub prints: i64,
}

/// Where a section is in its life.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, section: SectionId) -> Result<Keeping, Error> {
    let row = sqlx::query!(
        r#"SELECT archived_at, forgotten_at,
             (SELECT max(c.at) FROM change_log c WHERE c.subject_id = section.id AND c.what = ?2)
               AS "overwritten_at?: Instant"
           FROM section WHERE id = ?1"#,
        section,
        OVERWRITTEN
    )
    .fetch_optional(conn)
    .await?;
    Ok(row.map_or_else(Keeping::default, |row| Keeping {
        archived_at: row.archived_at,
        forgotten_at: row.forgotten_at,
        overwritten_at: row.overwritten_at,
    }))
}

/// Notes that the file was written anew after the people of a section were forgotten.
///
/// # Errors
/// When the database cannot be used.
pub async fn note_overwritten(tx: &mut SqliteConnection, section: SectionId, at: Instant) -> Result<(), Error> {
    change_log::insert(tx, at, Actor::Server, OVERWRITTEN, "section", section, "").await
}

/// What a section holds now.
///
/// # Errors
/// When the database cannot be used.
pub async fn count(conn: &mut SqliteConnection, section: SectionId) -> Result<Held, Error> {
    let row = sqlx::query!(
        r#"SELECT
             (SELECT count(*) FROM student WHERE section_id = ?1) AS "people!: i64",
             (SELECT count(*) FROM mark m JOIN lab_session l ON l.id = m.lab_session_id WHERE l.section_id = ?1)
               + (SELECT count(*) FROM mark_sheet m JOIN lab_session l ON l.id = m.lab_session_id
                  WHERE l.section_id = ?1) AS "marks!: i64",
             (SELECT count(*) FROM report r JOIN lab_session l ON l.id = r.lab_session_id
              WHERE l.section_id = ?1) AS "reports!: i64",
             (SELECT count(*) FROM report_picture p JOIN report r ON r.id = p.report_id
              JOIN lab_session l ON l.id = r.lab_session_id WHERE l.section_id = ?1) AS "pictures!: i64",
             (SELECT count(*) FROM own_figure o JOIN lab_session l ON l.id = o.lab_session_id
              WHERE l.section_id = ?1) AS "tries!: i64",
             (SELECT count(*) FROM exposure WHERE section_id = ?1 AND remark <> '')
               + (SELECT count(*) FROM camera WHERE section_id = ?1 AND remark <> '')
               + (SELECT count(*) FROM hole h JOIN camera c ON c.id = h.camera_id
                  WHERE c.section_id = ?1 AND h.remark <> '')
               + (SELECT count(*) FROM print p JOIN lab_session l ON l.id = p.lab_session_id
                  WHERE l.section_id = ?1 AND p.remark <> '')
               + (SELECT count(*) FROM print p JOIN lab_session l ON l.id = p.lab_session_id
                  WHERE l.section_id = ?1 AND p.light <> '')
               + (SELECT count(*) FROM exposure WHERE section_id = ?1 AND taken_back_why <> '')
               + (SELECT count(*) FROM left_out o JOIN exposure e ON e.id = o.exposure_id WHERE e.section_id = ?1)
               + (SELECT count(*) FROM sheet_count n JOIN lab_session l ON l.id = n.lab_session_id
                  WHERE l.section_id = ?1 AND n.remark <> '') AS "remarks!: i64",
             (SELECT count(*) FROM help_call h JOIN lab_session l ON l.id = h.lab_session_id WHERE l.section_id = ?1)
               + (SELECT count(*) FROM announcement a JOIN lab_session l ON l.id = a.lab_session_id
                  WHERE l.section_id = ?1) AS "told!: i64",
             (SELECT count(*) FROM exposure WHERE section_id = ?1) AS "exposures!: i64",
             (SELECT count(*) FROM print p JOIN lab_session l ON l.id = p.lab_session_id
              WHERE l.section_id = ?1) AS "prints!: i64""#,
        section
    )
    .fetch_one(conn)
    .await?;
    Ok(Held {
        people: row.people,
        marks: row.marks,
        reports: row.reports,
        pictures: row.pictures,
        tries: row.tries,
        remarks: row.remarks,
        told: row.told,
        exposures: row.exposures,
        prints: row.prints,
    })
}

/// Archives a section, or takes it out of the archive.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_archived(tx: &mut SqliteConnection, section: SectionId, at: Option<Instant>) -> Result<(), Error> {
    sqlx::query!("UPDATE section SET archived_at = ? WHERE id = ?", at, section).execute(tx).await?;
    Ok(())
}
