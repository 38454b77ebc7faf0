//! Receipts: the same form sent again gets the same answer, and makes no second record.

use sqlx::SqliteConnection;

use super::stamp::Stamp;
use crate::domain::instant::Instant;
use crate::store::{Error, Landing, WriteError};

/// How long a receipt is kept.
const KEEP_DAYS: i64 = 90;

/// What the receipts say of a form about to be acted on.
pub(in crate::store) enum Verdict {
    /// Never seen: act on it.
    New,
    /// Seen, the same to the letter: this is where it led.
    Same(Landing),
}

/// Looks the form up.
///
/// # Errors
/// [`WriteError::SentBefore`] when it was sent before with other content or by somebody else.
pub(in crate::store) async fn find(conn: &mut SqliteConnection, stamp: &Stamp) -> Result<Verdict, WriteError> {
    let key = stamp.key();
    let key = key.as_slice();
    let row =
        sqlx::query!(r#"SELECT actor AS "actor!: Vec<u8>", body_hash, led_to FROM receipt WHERE form_id = ?"#, key)
            .fetch_optional(conn)
            .await?;
    match row {
        None => Ok(Verdict::New),
        Some(row) if row.body_hash == stamp.body_hash && row.actor == stamp.actor_key() => {
            Ok(Verdict::Same(row.led_to))
        }
        // somebody else's receipt must not tell where it led
        Some(row) if row.actor != stamp.actor_key() => Err(WriteError::SentBefore("/".to_owned())),
        Some(row) => Err(WriteError::SentBefore(row.led_to)),
    }
}

/// Keeps where the form led.
pub(in crate::store) async fn insert(
    conn: &mut SqliteConnection,
    stamp: &Stamp,
    landing: &str,
    at: Instant,
) -> Result<(), Error> {
    let key = stamp.key();
    let (key, actor, hash) = (key.as_slice(), stamp.actor_key(), stamp.body_hash.as_slice());
    sqlx::query!(
        "INSERT INTO receipt (form_id, actor, route, body_hash, led_to, at) VALUES (?, ?, ?, ?, ?, ?)",
        key,
        actor,
        stamp.route,
        hash,
        landing,
        at
    )
    .execute(conn)
    .await?;
    Ok(())
}

/// Drops receipts older than ninety days.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn delete_old(conn: &mut SqliteConnection, now: Instant) -> Result<(), Error> {
    let before = now.plus_minutes(-KEEP_DAYS * 24 * 60);
    sqlx::query!("DELETE FROM receipt WHERE at < ?", before).execute(conn).await?;
    Ok(())
}
