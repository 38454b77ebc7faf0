//! Seats that were left while the disk took nothing: remembered here until it does.

use std::{
    collections::HashSet,
    sync::{Mutex, PoisonError},
};

/// Nobody leaves so many seats on one full disk; past it the idle time ends them.
const MOST: usize = 5_000;

/// The hash of a sign-in's token.
pub type TokenHash = [u8; 32];

/// The sign-ins that are over although the file says otherwise.
#[derive(Debug, Default)]
pub struct LeftSeats(Mutex<HashSet<TokenHash>>);

impl LeftSeats {
    /// Whether this seat was left.
    pub fn has(&self, token_hash: &TokenHash) -> bool {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).contains(token_hash)
    }

    /// Remembers that it was left; gives whether that is new.
    pub fn put(&self, token_hash: TokenHash) -> bool {
        let mut left = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        left.len() < MOST && left.insert(token_hash)
    }

    /// Forgets it, once the file says so.
    pub fn remove(&self, token_hash: &TokenHash) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).remove(token_hash);
    }
}
