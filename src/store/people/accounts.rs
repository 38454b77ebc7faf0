//! Accounts of instructors and assistants, and the links that make or mend them.

use sqlx::SqliteConnection;

use crate::domain::{ids::AccountId, instant::Instant, measure::units::Units, people::actor::Role};

use crate::store::Error;

/// A member of staff.
#[derive(Clone, Debug)]
pub struct Account {
    /// Its id.
    pub id: AccountId,
    /// What it may do.
    pub role: Role,
    /// What is typed to sign in.
    pub sign_in_name: String,
    /// How it is shown.
    pub display_name: String,
    /// Set once it may no longer sign in.
    pub ended_at: Option<Instant>,
    /// Counts edits.
    pub version: i64,
}

/// What a one-time link is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinkPurpose {
    /// Making the first instructor's account.
    FirstInstructor,
    /// Setting a new password for this account.
    NewPassword(AccountId),
}

struct AccountRow {
    id: AccountId,
    role: String,
    sign_in_name: String,
    display_name: String,
    ended_at: Option<Instant>,
    version: i64,
}

impl TryFrom<AccountRow> for Account {
    type Error = Error;
    fn try_from(row: AccountRow) -> Result<Self, Error> {
        let inconsistent = || Error::Inconsistent { table: "account", column: "role", id: row.id.to_string() };
        Ok(Self {
            id: row.id,
            role: Role::from_word(&row.role).ok_or_else(inconsistent)?,
            sign_in_name: row.sign_in_name,
            display_name: row.display_name,
            ended_at: row.ended_at,
            version: row.version,
        })
    }
}

/// The account of that sign-in name with its password's hash; `None` for unknown or ended ones.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_for_sign_in(
    conn: &mut SqliteConnection,
    sign_in_name: &str,
) -> Result<Option<(AccountId, String)>, Error> {
    let row =
        sqlx::query!("SELECT id, password_hash FROM account WHERE sign_in_name = ? AND ended_at IS NULL", sign_in_name)
            .fetch_optional(conn)
            .await?;
    Ok(row.map(|row| (row.id, row.password_hash)))
}

/// One account.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: AccountId) -> Result<Option<Account>, Error> {
    let row = sqlx::query_as!(
        AccountRow,
        "SELECT id, role, sign_in_name, display_name, ended_at, version FROM account WHERE id = ?",
        id
    )
    .fetch_optional(conn)
    .await?;
    row.map(Account::try_from).transpose()
}

/// All accounts, ended ones last.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Account>, Error> {
    let rows = sqlx::query_as!(
        AccountRow,
        "SELECT id, role, sign_in_name, display_name, ended_at, version FROM account
         ORDER BY ended_at IS NOT NULL, display_name, id"
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Account::try_from).collect()
}

/// How many instructors can sign in.
///
/// # Errors
/// When the database cannot be used.
pub async fn count_instructors(conn: &mut SqliteConnection) -> Result<i64, Error> {
    let row =
        sqlx::query!(r#"SELECT count(*) AS "count!: i64" FROM account WHERE role = 'instructor' AND ended_at IS NULL"#)
            .fetch_one(conn)
            .await?;
    Ok(row.count)
}

/// Makes an account.
///
/// # Errors
/// [`Error::Constraint`] when the sign-in name is taken.
pub async fn insert(
    tx: &mut SqliteConnection,
    id: AccountId,
    role: Role,
    sign_in_name: &str,
    display_name: &str,
    password_hash: &str,
    at: Instant,
) -> Result<(), Error> {
    let role = role.as_str();
    sqlx::query!(
        "INSERT INTO account (id, role, sign_in_name, display_name, password_hash, created_at)
         VALUES (?, ?, ?, ?, ?, ?)",
        id,
        role,
        sign_in_name,
        display_name,
        password_hash,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Sets a new password.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_password(tx: &mut SqliteConnection, id: AccountId, password_hash: &str) -> Result<(), Error> {
    sqlx::query!("UPDATE account SET password_hash = ?, version = version + 1 WHERE id = ?", password_hash, id)
        .execute(tx)
        .await?;
    Ok(())
}

/// Ends an account: it can no longer sign in; what it recorded stays.
///
/// # Errors
/// When the database cannot be used.
pub async fn end(tx: &mut SqliteConnection, id: AccountId, at: Instant) -> Result<(), Error> {
    sqlx::query!("UPDATE account SET ended_at = ?, version = version + 1 WHERE id = ? AND ended_at IS NULL", at, id)
        .execute(tx)
        .await?;
    Ok(())
}

/// Makes a link that works once; earlier links for the same purpose stop working.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert_link(
    tx: &mut SqliteConnection,
    token_hash: &[u8; 32],
    purpose: LinkPurpose,
    expires_at: Instant,
    now: Instant,
) -> Result<(), Error> {
    let hash = token_hash.as_slice();
    let (word, account) = match purpose {
        LinkPurpose::FirstInstructor => ("first instructor", None),
        LinkPurpose::NewPassword(account) => ("new password", Some(account)),
    };
    sqlx::query!(
        "UPDATE one_time_link SET used_at = ? WHERE used_at IS NULL AND purpose = ? AND account_id IS ?",
        now,
        word,
        account
    )
    .execute(&mut *tx)
    .await?;
    sqlx::query!(
        "INSERT INTO one_time_link (token_hash, purpose, account_id, expires_at) VALUES (?, ?, ?, ?)",
        hash,
        word,
        account,
        expires_at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// What an unused, unexpired link is for.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_link(
    conn: &mut SqliteConnection,
    token_hash: &[u8; 32],
    now: Instant,
) -> Result<Option<LinkPurpose>, Error> {
    let hash = token_hash.as_slice();
    let row = sqlx::query!(
        "SELECT account_id FROM one_time_link WHERE token_hash = ? AND used_at IS NULL AND expires_at > ?",
        hash,
        now
    )
    .fetch_optional(conn)
    .await?;
    Ok(row.map(|row| row.account_id.map_or(LinkPurpose::FirstInstructor, LinkPurpose::NewPassword)))
}

/// Uses a link up.
///
/// # Errors
/// When the database cannot be used.
pub async fn use_link(tx: &mut SqliteConnection, token_hash: &[u8; 32], now: Instant) -> Result<(), Error> {
    let hash = token_hash.as_slice();
    sqlx::query!("UPDATE one_time_link SET used_at = ? WHERE token_hash = ?", now, hash).execute(tx).await?;
    Ok(())
}

/// In which units a person reads.
///
/// # Errors
/// When the database cannot be used.
pub async fn update_units(tx: &mut SqliteConnection, id: AccountId, units: Units) -> Result<(), Error> {
    let word = units.as_str();
    sqlx::query!("UPDATE account SET units = ? WHERE id = ?", word, id).execute(tx).await?;
    Ok(())
}
