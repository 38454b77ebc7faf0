//! Marks: one row a cell, and one row for a student's sheet as a whole.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{CriterionId, LabSessionId, PersonId, StudentId},
    instant::Instant,
    marking::{
        mark::{Mark, MarkChange, MarkSheet, Standing},
        points::Points,
    },
    people::roster_order::by_roster_number,
};

use crate::store::Error;

/// A student who belongs on a session's table of marks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Marked {
    /// The student.
    pub student: StudentId,
    /// The number on the roster.
    pub roster_number: String,
    /// The name.
    pub name: String,
    /// Whether they were struck off the roster since.
    pub struck_off: bool,
}

struct CellRow {
    student_id: StudentId,
    criterion_id: CriterionId,
    points_milli: Option<i64>,
    left_out: i64,
    suggested_milli: Option<i64>,
    evidence: String,
    reason: String,
    comment: String,
    marked_by: PersonId,
    marked_at: Instant,
    version: i64,
}

struct SheetRow {
    student_id: StudentId,
    standing: String,
    comment: String,
    released_at: Option<Instant>,
    first_released_at: Option<Instant>,
    marked_by: Option<PersonId>,
    marked_at: Option<Instant>,
    version: i64,
}

struct ChangeRow {
    name: Option<String>,
    was_points_milli: Option<i64>,
    now_points_milli: Option<i64>,
    comment_changed: i64,
    changed_at: Instant,
}

/// Who belongs on a session's table of marks, by roster number: its section's students, and of
/// those struck off the ones with marks.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_students(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<Marked>, Error> {
    let mut rows = sqlx::query_as!(
        Marked,
        r#"SELECT s.id AS "student: StudentId", s.roster_number, s.name, s.left_at IS NOT NULL AS "struck_off!: bool"
           FROM student s JOIN lab_session l ON l.section_id = s.section_id
           WHERE l.id = ?1 AND (s.left_at IS NULL
               OR EXISTS (SELECT 1 FROM mark m WHERE m.lab_session_id = ?1 AND m.student_id = s.id)
               OR EXISTS (SELECT 1 FROM mark_sheet h WHERE h.lab_session_id = ?1 AND h.student_id = s.id))"#,
        session
    )
    .fetch_all(conn)
    .await?;
    rows.sort_by(|one, other| by_roster_number(&one.roster_number, &other.roster_number));
    Ok(rows)
}

/// The sheets of a session on which anything was written, by student.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_sheets(
    conn: &mut SqliteConnection,
    session: LabSessionId,
) -> Result<HashMap<StudentId, MarkSheet>, Error> {
    let cells = sqlx::query_as!(
        CellRow,
        "SELECT student_id, criterion_id, points_milli, left_out, suggested_milli, evidence, reason, comment, marked_by,
             marked_at, version
         FROM mark WHERE lab_session_id = ?",
        session
    )
    .fetch_all(&mut *conn)
    .await?;
    let sheets = sqlx::query_as!(
        SheetRow,
        "SELECT student_id, standing, comment, released_at, first_released_at, marked_by, marked_at, version
         FROM mark_sheet WHERE lab_session_id = ?",
        session
    )
    .fetch_all(conn)
    .await?;
    Ok(gathered(cells, sheets))
}

/// One student's sheet in a session; a blank one when nobody has written on it.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_sheet(
    conn: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
) -> Result<MarkSheet, Error> {
    let cells = sqlx::query_as!(
        CellRow,
        "SELECT student_id, criterion_id, points_milli, left_out, suggested_milli, evidence, reason, comment, marked_by,
             marked_at, version
         FROM mark WHERE lab_session_id = ? AND student_id = ?",
        session,
        student
    )
    .fetch_all(&mut *conn)
    .await?;
    let sheets = sqlx::query_as!(
        SheetRow,
        "SELECT student_id, standing, comment, released_at, first_released_at, marked_by, marked_at, version
         FROM mark_sheet WHERE lab_session_id = ? AND student_id = ?",
        session,
        student
    )
    .fetch_all(conn)
    .await?;
    Ok(gathered(cells, sheets).remove(&student).unwrap_or_else(|| MarkSheet::blank(student)))
}

fn gathered(cells: Vec<CellRow>, sheets: Vec<SheetRow>) -> HashMap<StudentId, MarkSheet> {
    let mut found: HashMap<StudentId, MarkSheet> = HashMap::new();
    for row in sheets {
        let sheet = MarkSheet {
            // the database takes no other word
            standing: Standing::from_word(&row.standing).unwrap_or_default(),
            comment: row.comment,
            comment_version: row.version,
            commented_by: row.marked_by,
            commented_at: row.marked_at,
            given_back_at: row.released_at,
            first_given_back_at: row.first_released_at,
            ..MarkSheet::blank(row.student_id)
        };
        found.insert(row.student_id, sheet);
    }
    for row in cells {
        let mark = Mark {
            points: row.points_milli.map(Points::from_milli),
            left_out: row.left_out != 0,
            suggested: row.suggested_milli.map(Points::from_milli),
            evidence: row.evidence,
            reason: row.reason,
            comment: row.comment,
            marked_by: row.marked_by,
            marked_at: row.marked_at,
            version: row.version,
        };
        let sheet = found.entry(row.student_id).or_insert_with(|| MarkSheet::blank(row.student_id));
        sheet.cells.insert(row.criterion_id, mark);
    }
    found
}

/// How many cells of a session have points under a rubric other than the session's own: kept,
/// but not counted.
///
/// # Errors
/// When the database cannot be used.
pub async fn count_elsewhere(conn: &mut SqliteConnection, session: LabSessionId) -> Result<i64, Error> {
    let row = sqlx::query!(
        r#"SELECT count(*) AS "n!: i64" FROM mark m JOIN criterion c ON c.id = m.criterion_id
           JOIN lab_session l ON l.id = m.lab_session_id
           WHERE m.lab_session_id = ? AND m.points_milli IS NOT NULL AND c.rubric_id IS NOT l.rubric_id"#,
        session
    )
    .fetch_one(conn)
    .await?;
    Ok(row.n)
}

/// The sessions in which a student's marks were given back, the newest evening first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_given_back(conn: &mut SqliteConnection, student: StudentId) -> Result<Vec<LabSessionId>, Error> {
    let rows = sqlx::query!(
        "SELECT s.lab_session_id FROM mark_sheet s JOIN lab_session l ON l.id = s.lab_session_id
         WHERE s.student_id = ? AND s.released_at IS NOT NULL ORDER BY l.held_on DESC, l.created_at DESC",
        student
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(|row| row.lab_session_id).collect())
}

/// Stores one cell over whatever stood there; the caller has settled that it may.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_mark(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
    criterion: CriterionId,
    mark: &Mark,
) -> Result<(), Error> {
    let (points, suggested) = (mark.points.map(Points::as_milli), mark.suggested.map(Points::as_milli));
    sqlx::query!(
        "INSERT INTO mark (lab_session_id, student_id, criterion_id, points_milli, left_out, suggested_milli, evidence,
             reason, comment, marked_by, marked_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
         ON CONFLICT (lab_session_id, student_id, criterion_id) DO UPDATE SET points_milli = excluded.points_milli,
             left_out = excluded.left_out, suggested_milli = excluded.suggested_milli, evidence = excluded.evidence,
             reason = excluded.reason, comment = excluded.comment, marked_by = excluded.marked_by,
             marked_at = excluded.marked_at, version = version + 1",
        session,
        student,
        criterion,
        points,
        mark.left_out,
        suggested,
        mark.evidence,
        mark.reason,
        mark.comment,
        mark.marked_by,
        mark.marked_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores the comment on all of a student's sheet and how the student stands; the caller has settled that it may.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_comment(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
    standing: Standing,
    comment: &str,
    by: PersonId,
    at: Instant,
) -> Result<(), Error> {
    let standing = standing.as_str();
    sqlx::query!(
        "INSERT INTO mark_sheet (lab_session_id, student_id, standing, comment, marked_by, marked_at)
         VALUES (?, ?, ?, ?, ?, ?)
         ON CONFLICT (lab_session_id, student_id) DO UPDATE SET standing = excluded.standing,
             comment = excluded.comment, marked_by = excluded.marked_by, marked_at = excluded.marked_at, version = version + 1",
        session,
        student,
        standing,
        comment,
        by,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Lets the student see the sheet from now on.
///
/// # Errors
/// When the database cannot be used.
pub async fn give_back(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
    by: PersonId,
    at: Instant,
) -> Result<(), Error> {
    // version 0 before anybody commented: the row is not an edit of the comment
    sqlx::query!(
        "INSERT INTO mark_sheet (lab_session_id, student_id, released_at, released_by, first_released_at, version)
         VALUES (?1, ?2, ?3, ?4, ?3, 0)
         ON CONFLICT (lab_session_id, student_id) DO UPDATE SET released_at = excluded.released_at,
             released_by = excluded.released_by, first_released_at = coalesce(first_released_at, excluded.released_at)",
        session,
        student,
        at,
        by
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Takes the sheet out of the student's sight again.
///
/// # Errors
/// When the database cannot be used.
pub async fn take_back(tx: &mut SqliteConnection, session: LabSessionId, student: StudentId) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE mark_sheet SET released_at = NULL, released_by = NULL WHERE lab_session_id = ? AND student_id = ?",
        session,
        student
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Keeps a change the student will be shown. `criterion` is `None` for the comment on all.
///
/// # Errors
/// When the database cannot be used.
#[expect(clippy::too_many_arguments, reason = "one argument a column")]
pub async fn insert_change(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
    criterion: Option<CriterionId>,
    was: Option<Points>,
    now: Option<Points>,
    comment_changed: bool,
    by: PersonId,
    at: Instant,
) -> Result<(), Error> {
    let (was, now) = (was.map(Points::as_milli), now.map(Points::as_milli));
    sqlx::query!(
        "INSERT INTO mark_change (lab_session_id, student_id, criterion_id, was_points_milli, now_points_milli,
             comment_changed, changed_by, changed_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        session,
        student,
        criterion,
        was,
        now,
        comment_changed,
        by,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// What was changed on a student's sheet after they may have seen it, oldest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_changes(
    conn: &mut SqliteConnection,
    session: LabSessionId,
    student: StudentId,
) -> Result<Vec<MarkChange>, Error> {
    let rows = sqlx::query_as!(
        ChangeRow,
        r#"SELECT c.name AS "name?", m.was_points_milli, m.now_points_milli, m.comment_changed, m.changed_at
           FROM mark_change m LEFT JOIN criterion c ON c.id = m.criterion_id
           WHERE m.lab_session_id = ? AND m.student_id = ? ORDER BY m.id"#,
        session,
        student
    )
    .fetch_all(conn)
    .await?;
    let change = |row: ChangeRow| MarkChange {
        criterion: row.name,
        was: row.was_points_milli.map(Points::from_milli),
        now: row.now_points_milli.map(Points::from_milli),
        comment_changed: row.comment_changed != 0,
        at: row.changed_at,
    };
    Ok(rows.into_iter().map(change).collect())
}
