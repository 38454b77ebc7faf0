//! Who is signed in where. Kept on the server, so that a sign-in can be ended at once.

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{AccountId, SectionId, StudentId},
    instant::Instant,
    measure::units::Units,
    people::actor::Role,
};

use crate::store::Error;

/// A sign-in ends by itself after so many idle minutes on a computer that others use.
pub const SHARED_IDLE_MINUTES: i64 = 15;
/// A sign-in on one's own phone or computer ends after so many idle minutes.
pub const OWN_IDLE_MINUTES: i64 = 12 * 60;

/// A person as a sign-in knows them.
#[derive(Clone, Debug)]
pub enum Person {
    /// An instructor or assistant.
    Staff {
        /// The account.
        id: AccountId,
        /// What it may do.
        role: Role,
        /// How it is shown.
        name: String,
    },
    /// A student.
    Student {
        /// The student.
        id: StudentId,
        /// Their section.
        section: SectionId,
        /// How they are shown.
        name: String,
        /// Whether they work in inches.
        inches: bool,
    },
}

/// A live sign-in.
#[derive(Clone, Debug)]
pub struct SignIn {
    /// Who.
    pub person: Person,
    /// Whether it is on a computer that others use.
    pub shared: bool,
    /// When it was last used.
    pub seen_at: Instant,
    /// What the benches of the student's open session are told now.
    pub told: Option<String>,
    /// In which units they read.
    pub units: Units,
}

/// Begins a sign-in.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(
    tx: &mut SqliteConnection,
    token_hash: &[u8; 32],
    account: Option<AccountId>,
    student: Option<StudentId>,
    shared: bool,
    at: Instant,
) -> Result<(), Error> {
    let hash = token_hash.as_slice();
    sqlx::query!(
        "INSERT INTO sign_in (token_hash, account_id, student_id, shared, began_at, seen_at) VALUES (?, ?, ?, ?, ?, ?)",
        hash,
        account,
        student,
        shared,
        at,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// The live sign-in of a token: not ended, not idle too long, the person still with us.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, token_hash: &[u8; 32], now: Instant) -> Result<Option<SignIn>, Error> {
    let hash = token_hash.as_slice();
    let row = sqlx::query!(
        r#"SELECT sign_in.account_id, sign_in.student_id, sign_in.shared, sign_in.seen_at,
                  account.role AS "role?", account.display_name AS "display_name?",
                  student.section_id AS "section_id?: SectionId", student.name AS "name?", coalesce(account.units, student.units) AS "units?",
                  announcement.words AS "told?"
           FROM sign_in
           LEFT JOIN account ON account.id = sign_in.account_id AND account.ended_at IS NULL
           LEFT JOIN student ON student.id = sign_in.student_id AND student.left_at IS NULL
           LEFT JOIN lab_session ON lab_session.section_id = student.section_id AND lab_session.state = 'open'
           LEFT JOIN announcement ON announcement.lab_session_id = lab_session.id AND announcement.ended_at IS NULL
           WHERE sign_in.token_hash = ? AND sign_in.ended_at IS NULL"#,
        hash
    )
    .fetch_optional(conn)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let shared = row.shared != 0;
    let idle = if shared { SHARED_IDLE_MINUTES } else { OWN_IDLE_MINUTES };
    if row.seen_at.plus_minutes(idle) < now {
        return Ok(None);
    }
    let told = row.told;
    let units = row.units.as_deref().and_then(Units::from_word).unwrap_or_default();
    let person = match (row.account_id, row.student_id) {
        (Some(id), _) => row
            .role
            .as_deref()
            .and_then(Role::from_word)
            .zip(row.display_name)
            .map(|(role, name)| Person::Staff { id, role, name }),
        (None, Some(id)) => row.section_id.zip(row.name).map(|(section, name)| Person::Student {
            id,
            section,
            name,
            inches: units == Units::Inch,
        }),
        (None, None) => None,
    };
    Ok(person.map(|person| SignIn { person, shared, seen_at: row.seen_at, told, units }))
}

/// Notes that it was used.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_seen(tx: &mut SqliteConnection, token_hash: &[u8; 32], at: Instant) -> Result<(), Error> {
    let hash = token_hash.as_slice();
    sqlx::query!("UPDATE sign_in SET seen_at = ? WHERE token_hash = ? AND ended_at IS NULL", at, hash)
        .execute(tx)
        .await?;
    Ok(())
}

/// Ends one sign-in.
///
/// # Errors
/// When the database cannot be used.
pub async fn end(tx: &mut SqliteConnection, token_hash: &[u8; 32], at: Instant) -> Result<(), Error> {
    let hash = token_hash.as_slice();
    sqlx::query!("UPDATE sign_in SET ended_at = ? WHERE token_hash = ? AND ended_at IS NULL", at, hash)
        .execute(tx)
        .await?;
    Ok(())
}

/// Ends all of a student's sign-ins.
///
/// # Errors
/// When the database cannot be used.
pub async fn end_of_student(tx: &mut SqliteConnection, student: StudentId, at: Instant) -> Result<(), Error> {
    sqlx::query!("UPDATE sign_in SET ended_at = ? WHERE student_id = ? AND ended_at IS NULL", at, student)
        .execute(tx)
        .await?;
    Ok(())
}

/// Ends a student's sign-ins but this one.
///
/// # Errors
/// When the database cannot be used.
pub async fn end_others_of_student(
    tx: &mut SqliteConnection,
    student: StudentId,
    but: &[u8; 32],
    at: Instant,
) -> Result<(), Error> {
    let but = but.as_slice();
    sqlx::query!(
        "UPDATE sign_in SET ended_at = ? WHERE student_id = ? AND token_hash <> ? AND ended_at IS NULL",
        at,
        student,
        but
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Ends all of an account's sign-ins.
///
/// # Errors
/// When the database cannot be used.
pub async fn end_of_account(tx: &mut SqliteConnection, account: AccountId, at: Instant) -> Result<(), Error> {
    sqlx::query!("UPDATE sign_in SET ended_at = ? WHERE account_id = ? AND ended_at IS NULL", at, account)
        .execute(tx)
        .await?;
    Ok(())
}
