//! Words that a marker uses often.

use sqlx::SqliteConnection;

use crate::domain::{ids::AccountId, instant::Instant};

use crate::store::Error;

/// A marker's phrases, the newest first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection, account: AccountId) -> Result<Vec<String>, Error> {
    let phrases = sqlx::query_scalar!(
        "SELECT words FROM stock_phrase WHERE account_id = ? ORDER BY kept_at DESC, words",
        account
    )
    .fetch_all(conn)
    .await?;
    Ok(phrases)
}

/// Puts a marker's phrases in the place of those before.
///
/// # Errors
/// When the database cannot be used.
pub async fn put(tx: &mut SqliteConnection, account: AccountId, phrases: &[String], at: Instant) -> Result<(), Error> {
    sqlx::query!("DELETE FROM stock_phrase WHERE account_id = ?", account).execute(&mut *tx).await?;
    for (words, place) in phrases.iter().zip(0_i64..) {
        // the order typed is the order shown
        let kept_at = at.plus_micros(-place);
        sqlx::query!(
            "INSERT INTO stock_phrase (account_id, words, kept_at) VALUES (?, ?, ?)
             ON CONFLICT (account_id, words) DO NOTHING",
            account,
            words,
            kept_at
        )
        .execute(&mut *tx)
        .await?;
    }
    Ok(())
}
