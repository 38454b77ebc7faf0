//! Students.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{SectionId, StudentId},
    instant::Instant,
    people::{roster_order::by_roster_number, student::Student},
};

use crate::store::Error;

struct StudentRow {
    id: StudentId,
    section_id: SectionId,
    roster_number: String,
    name: String,
    email: String,
    walk_in: i64,
    joined_at: Option<Instant>,
    left_at: Option<Instant>,
    units: String,
    version: i64,
}

impl From<StudentRow> for Student {
    fn from(row: StudentRow) -> Self {
        Self {
            id: row.id,
            section: row.section_id,
            roster_number: row.roster_number,
            name: row.name,
            email: row.email,
            walk_in: row.walk_in != 0,
            joined_at: row.joined_at,
            left_at: row.left_at,
            inches: row.units == "inch",
            version: row.version,
        }
    }
}

/// One student.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: StudentId) -> Result<Option<Student>, Error> {
    let row = sqlx::query_as!(
        StudentRow,
        "SELECT id, section_id, roster_number, name, email, walk_in, joined_at, left_at, units, version
         FROM student WHERE id = ?",
        id
    )
    .fetch_optional(conn)
    .await?;
    Ok(row.map(Student::from))
}

/// The student of that roster number in a section.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_on_roster(
    conn: &mut SqliteConnection,
    section: SectionId,
    roster_number: &str,
) -> Result<Option<Student>, Error> {
    let row = sqlx::query_as!(
        StudentRow,
        "SELECT id, section_id, roster_number, name, email, walk_in, joined_at, left_at, units, version
         FROM student WHERE section_id = ? AND roster_number = ?",
        section,
        roster_number
    )
    .fetch_optional(conn)
    .await?;
    Ok(row.map(Student::from))
}

/// A section's students (not those struck off), by roster number.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, section: SectionId) -> Result<Vec<Student>, Error> {
    let rows = sqlx::query_as!(
        StudentRow,
        "SELECT id, section_id, roster_number, name, email, walk_in, joined_at, left_at, units, version
         FROM student WHERE section_id = ? AND left_at IS NULL",
        section
    )
    .fetch_all(conn)
    .await?;
    Ok(in_order(rows))
}

fn in_order(mut rows: Vec<StudentRow>) -> Vec<Student> {
    rows.sort_by(|one, other| by_roster_number(&one.roster_number, &other.roster_number));
    rows.into_iter().map(Student::from).collect()
}

/// A section's students, those struck off included, by roster number.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_ever(conn: &mut SqliteConnection, section: SectionId) -> Result<Vec<Student>, Error> {
    let rows = sqlx::query_as!(
        StudentRow,
        "SELECT id, section_id, roster_number, name, email, walk_in, joined_at, left_at, units, version
         FROM student WHERE section_id = ?",
        section
    )
    .fetch_all(conn)
    .await?;
    Ok(in_order(rows))
}

/// Stores a student's line of the roster if its version still stands; gives whether it did. The
/// seat key and the units are the student's own and are not touched.
///
/// # Errors
/// [`Error::Constraint`] when the roster number is taken in this section.
pub async fn update(tx: &mut SqliteConnection, student: &Student) -> Result<bool, Error> {
    let done = sqlx::query!(
        "UPDATE student SET roster_number = ?, name = ?, email = ?, walk_in = ?, left_at = ?, version = version + 1
         WHERE id = ? AND version = ?",
        student.roster_number,
        student.name,
        student.email,
        student.walk_in,
        student.left_at,
        student.id,
        student.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Stores a student on the roster, not seated yet.
///
/// # Errors
/// [`Error::Constraint`] when the roster number is taken in this section.
pub async fn insert(tx: &mut SqliteConnection, student: &Student, at: Instant) -> Result<(), Error> {
    let units = if student.inches { "inch" } else { "metric" };
    sqlx::query!(
        "INSERT INTO student (id, section_id, roster_number, name, email, walk_in, units, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        student.id,
        student.section,
        student.roster_number,
        student.name,
        student.email,
        student.walk_in,
        units,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Sets the seat key's hash (joining, or a reissue); an earlier key ends with it.
///
/// # Errors
/// [`Error::Constraint`] when another student on this server has the same key: draw another.
pub async fn update_seat_key(
    tx: &mut SqliteConnection,
    id: StudentId,
    seat_key_hash: &[u8; 32],
    at: Instant,
) -> Result<(), Error> {
    let hash = seat_key_hash.as_slice();
    sqlx::query!(
        "UPDATE student SET seat_key_hash = ?, joined_at = coalesce(joined_at, ?), version = version + 1 WHERE id = ?",
        hash,
        at,
        id
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The student with that seat key's hash, unless struck off.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_by_seat_key(conn: &mut SqliteConnection, seat_key_hash: &[u8; 32]) -> Result<Option<Student>, Error> {
    let hash = seat_key_hash.as_slice();
    let row = sqlx::query_as!(
        StudentRow,
        "SELECT id, section_id, roster_number, name, email, walk_in, joined_at, left_at, units, version
         FROM student WHERE seat_key_hash = ? AND left_at IS NULL",
        hash
    )
    .fetch_optional(conn)
    .await?;
    Ok(row.map(Student::from))
}

/// Whether some student has that seat key's hash, on whatever roster.
///
/// # Errors
/// When the database cannot be used.
pub async fn is_seat_key_taken(conn: &mut SqliteConnection, seat_key_hash: &[u8; 32]) -> Result<bool, Error> {
    let hash = seat_key_hash.as_slice();
    let row = sqlx::query!(r#"SELECT count(*) AS "count!: i64" FROM student WHERE seat_key_hash = ?"#, hash)
        .fetch_one(conn)
        .await?;
    Ok(row.count > 0)
}

/// Frees a name: the seat key ends and the student may join again. Records stay.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_not_joined(tx: &mut SqliteConnection, id: StudentId) -> Result<(), Error> {
    sqlx::query!("UPDATE student SET seat_key_hash = NULL, joined_at = NULL, version = version + 1 WHERE id = ?", id)
        .execute(tx)
        .await?;
    Ok(())
}

/// Sets the units a student types and sees.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_units(tx: &mut SqliteConnection, id: StudentId, inches: bool) -> Result<(), Error> {
    let units = if inches { "inch" } else { "metric" };
    // no version: one's own way of reading is no record that others edit
    sqlx::query!("UPDATE student SET units = ? WHERE id = ?", units, id).execute(tx).await?;
    Ok(())
}

/// The next free number for somebody who is not on the roster: W1, W2 …
///
/// # Errors
/// When the database cannot be used.
pub async fn next_walk_in_number(conn: &mut SqliteConnection, section: SectionId) -> Result<String, Error> {
    let rows = sqlx::query!("SELECT roster_number FROM student WHERE section_id = ?", section).fetch_all(conn).await?;
    let taken = rows.iter().filter_map(|row| row.roster_number.strip_prefix('W')?.parse::<u32>().ok()).max();
    Ok(format!("W{}", taken.unwrap_or(0).saturating_add(1)))
}

/// Identifiers of the college's own system, as the roster brought them; empty without one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Identifiers {
    /// Of the person.
    pub user: String,
    /// Of the class.
    pub class: String,
}

/// The identifiers of a section's students.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_identifiers(
    conn: &mut SqliteConnection,
    section: SectionId,
) -> Result<HashMap<StudentId, Identifiers>, Error> {
    let rows = sqlx::query!("SELECT id, user_identifier, class_identifier FROM student WHERE section_id = ?", section)
        .fetch_all(conn)
        .await?;
    let identifiers =
        rows.into_iter().map(|row| (row.id, Identifiers { user: row.user_identifier, class: row.class_identifier }));
    Ok(identifiers.collect())
}

/// Stores those identifiers that a roster gives; `None` leaves one as it is.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_identifiers(
    tx: &mut SqliteConnection,
    id: StudentId,
    user: Option<&str>,
    class: Option<&str>,
) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE student SET user_identifier = coalesce(?, user_identifier),
             class_identifier = coalesce(?, class_identifier) WHERE id = ?",
        user,
        class,
        id
    )
    .execute(tx)
    .await?;
    Ok(())
}
