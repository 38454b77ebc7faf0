//! Drawing seat keys, and how they are looked up.

use crate::{
    domain::people::seat_key::SeatKey,
    store::{
        WriteError,
        engine::server_secrets::{SEAT_KEY_SALT, find, insert_if_missing},
        people::students,
    },
};

use super::state::AppState;

/// Drawing a key that somebody has is less than one chance in 2^44 for each key on the server; so many times
/// in a row it does not happen.
const DRAWS: usize = 5;

/// A key nobody on this server has, and how it is kept.
pub struct FreshKey {
    /// The four words.
    pub key: SeatKey,
    /// Their hash.
    pub hash: [u8; 32],
}

impl FreshKey {
    /// Draws one.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn draw(state: &AppState) -> Result<Self, WriteError> {
        for _ in 0..DRAWS {
            let key = SeatKey::draw(|bound| state.world.chance.below(bound));
            let hash = hash_of(state, &key).await?;
            let mut conn = state.store.read().await?;
            if !students::is_seat_key_taken(&mut conn, &hash).await? {
                return Ok(Self { key, hash });
            }
        }
        Err(WriteError::Missing("a free seat key"))
    }
}

/// How a key is kept and looked up.
///
/// # Errors
/// When the database cannot be used.
pub async fn hash_of(state: &AppState, key: &SeatKey) -> Result<[u8; 32], WriteError> {
    let salt = secret(state, SEAT_KEY_SALT).await?;
    Ok(state.hasher.seat_key_hash(&key.plain(), salt).await)
}

/// A secret of the server's own, made at first use.
///
/// # Errors
/// When the database cannot be used.
pub async fn secret(state: &AppState, name: &'static str) -> Result<[u8; 32], WriteError> {
    let mut conn = state.store.read().await?;
    if let Some(secret) = find(&mut conn, name).await? {
        return Ok(secret);
    }
    let fresh = state.world.chance.bytes::<32>();
    state
        .store
        .write(state.server_stamp(), move |tx| {
            Box::pin(async move {
                insert_if_missing(tx, name, &fresh).await?;
                Ok(String::new())
            })
        })
        .await?;
    find(&mut conn, name).await?.ok_or(WriteError::Missing("a secret of the server's own"))
}
