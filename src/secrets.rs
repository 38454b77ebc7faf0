//! Passwords, tokens and seat keys: how they are made and how they are kept (as hashes only).

use std::sync::Arc;

use argon2::{Algorithm, Argon2, Params, PasswordHasher, PasswordVerifier, Version, password_hash::phc::PasswordHash};
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use sha2::{Digest, Sha256};
use tokio::sync::Semaphore;

use crate::clock::Chance;

/// How hard hashing is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Effort {
    /// For people: 19 MiB, two passes (the OWASP minimum for argon2id; value from memory).
    Full,
    /// For tests only.
    Weak,
}

/// Hashes off the async threads, two at a time, so that a rush of sign-ins cannot fill the memory.
#[derive(Clone, Debug)]
pub struct Hasher {
    effort: Effort,
    places: Arc<Semaphore>,
}

impl Hasher {
    /// A hasher of the given effort.
    pub fn new(effort: Effort) -> Self {
        Self { effort, places: Arc::new(Semaphore::new(2)) }
    }

    fn argon2(&self) -> Argon2<'static> {
        let params = match self.effort {
            Effort::Full => Params::new(19 * 1024, 2, 1, Some(32)),
            Effort::Weak => Params::new(8, 1, 1, Some(32)),
        };
        Argon2::new(Algorithm::Argon2id, Version::V0x13, params.unwrap_or_default())
    }

    async fn run<T: Send + 'static>(&self, work: impl FnOnce(Argon2<'static>) -> T + Send + 'static) -> T {
        let _place = self.places.acquire().await.expect("the semaphore is never closed");
        let argon2 = self.argon2();
        tokio::task::spawn_blocking(move || work(argon2)).await.expect("hashing does not panic")
    }

    /// A password's hash, with a salt of its own, in the PHC string format.
    pub async fn hash_password(&self, password: &str, chance: &Chance) -> String {
        let (password, salt) = (password.to_owned(), chance.bytes::<16>());
        self.run(move |argon2| {
            argon2
                .hash_password_with_salt(password.as_bytes(), &salt)
                .map(|hash| hash.to_string())
                .expect("argon2 accepts a sixteen-byte salt")
        })
        .await
    }

    /// Whether the password belongs to the hash. Takes as long for no account (`None`) as for one.
    pub async fn verify_password(&self, password: &str, hash: Option<String>) -> bool {
        let password = password.to_owned();
        self.run(move |argon2| match hash.as_deref().map(PasswordHash::new) {
            Some(Ok(hash)) => argon2.verify_password(password.as_bytes(), &hash).is_ok(),
            _ => {
                drop(argon2.hash_password_with_salt(password.as_bytes(), &[0; 16]));
                false
            }
        })
        .await
    }

    /// A seat key's hash under the server's own salt: slow to guess, yet always the same, so that
    /// a key can be looked up. The key is in its plain form (see `domain::seat_key`).
    pub async fn seat_key_hash(&self, plain_key: &str, server_salt: [u8; 32]) -> [u8; 32] {
        let key = plain_key.to_owned();
        self.run(move |argon2| {
            let mut hash = [0; 32];
            argon2
                .hash_password_into(key.as_bytes(), &server_salt, &mut hash)
                .expect("argon2 accepts a thirty-two-byte salt");
            hash
        })
        .await
    }
}

/// A new random token, as it stands in a cookie or link.
pub fn new_token(chance: &Chance) -> String {
    URL_SAFE_NO_PAD.encode(chance.bytes::<32>())
}

/// How a token is kept. It has 256 random bits, so a plain SHA-256 is enough.
pub fn token_hash(token: &str) -> [u8; 32] {
    Sha256::digest(token.as_bytes()).into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_password_opens_its_own_hash_and_no_other() {
        let hasher = Hasher::new(Effort::Weak);
        let hash = hasher.hash_password("brass shim 12", &Chance::seeded("a")).await;
        assert!(hash.starts_with("$argon2id$"), "{hash}");
        assert!(hasher.verify_password("brass shim 12", Some(hash.clone())).await);
        assert!(!hasher.verify_password("brass shim 13", Some(hash)).await);
        assert!(!hasher.verify_password("brass shim 12", None).await);
    }

    #[tokio::test]
    async fn a_seat_key_hashes_to_the_same_bytes_under_one_servers_salt() {
        let hasher = Hasher::new(Effort::Weak);
        let here = hasher.seat_key_hash("four words of ours", [1; 32]).await;
        assert_eq!(here, hasher.seat_key_hash("four words of ours", [1; 32]).await);
        assert_ne!(here, hasher.seat_key_hash("four words of ours", [2; 32]).await);
    }
}
