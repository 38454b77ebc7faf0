//! What is shown to one person once and kept nowhere readable: in memory only, by sign-in, gone
//! when confirmed, when the seat is left, or when the server stops.

use std::{
    collections::HashMap,
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicBool, Ordering},
    },
};

use crate::domain::instant::Instant;

/// Nobody's page waits longer than the longest sign-in.
const KEEP_MINUTES: i64 = 12 * 60;
/// How many sign-ins are remembered; past that the oldest are dropped, so that memory stays bounded.
const MOST: usize = 5_000;

/// What is shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// Four words.
    SeatKey,
    /// A one-time link for a new password.
    Link,
}

/// One thing to be shown.
#[derive(Clone, PartialEq, Eq)]
pub struct Shown {
    /// What it is.
    pub what: What,
    /// Whose it is: a name or an id.
    pub whose: String,
    /// The secret itself.
    pub text: String,
}

/// A secret never stands in a log.
impl std::fmt::Debug for Shown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Shown").field("what", &self.what).finish_non_exhaustive()
    }
}

/// The hash of a sign-in's token.
type TokenHash = [u8; 32];

/// What each sign-in has yet to be shown, by the hash of its token.
#[derive(Debug, Default)]
pub struct ShownOnce {
    waiting: Mutex<HashMap<TokenHash, Vec<(Instant, Shown)>>>,
}

impl ShownOnce {
    /// Keeps something for this sign-in; what was there about the same person is replaced.
    pub fn put(&self, token_hash: TokenHash, shown: Shown, now: Instant) {
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        waiting.retain(|_, list| {
            list.retain(|(at, _)| at.plus_minutes(KEEP_MINUTES) >= now);
            !list.is_empty()
        });
        while waiting.len() >= MOST {
            let oldest = waiting.iter().min_by_key(|(_, list)| list.first().map(|(at, _)| *at)).map(|(hash, _)| *hash);
            oldest.and_then(|hash| waiting.remove(&hash));
        }
        let list = waiting.entry(token_hash).or_default();
        list.retain(|(_, kept)| kept.what != shown.what || kept.whose != shown.whose);
        list.push((now, shown));
    }

    /// What waits for this sign-in.
    pub fn list(&self, token_hash: &TokenHash) -> Vec<Shown> {
        let waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        waiting.get(token_hash).into_iter().flatten().map(|(_, shown)| shown.clone()).collect()
    }

    /// Forgets what was passed on to one person, and keeps the rest.
    pub fn clear_of(&self, token_hash: &TokenHash, whose: &str) {
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(list) = waiting.get_mut(token_hash) {
            list.retain(|(_, shown)| shown.whose != whose);
        }
    }

    /// Forgets everything: it was written down, or the seat was left.
    pub fn clear(&self, token_hash: &TokenHash) {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner).remove(token_hash);
    }
}

/// Something to be shown once the write that makes it good has been committed. The write may not
/// run at all, when the form was sent before: then the secret in hand opens nothing, and must not
/// be shown.
#[derive(Debug)]
pub struct AfterWrite {
    token_hash: TokenHash,
    shown: Shown,
    ran: Arc<AtomicBool>,
}

impl AfterWrite {
    /// To be shown to this sign-in.
    pub fn to(token_hash: TokenHash, shown: Shown) -> Self {
        Self { token_hash, shown, ran: Arc::default() }
    }

    /// What the write sets when it runs.
    pub fn ran(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.ran)
    }

    /// Puts it up, if the write ran. Call it only after the commit.
    pub fn put_up(self, in_waiting: &ShownOnce, now: Instant) {
        if self.ran.load(Ordering::SeqCst) {
            in_waiting.put(self.token_hash, self.shown, now);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minutes: i64) -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range").plus_minutes(minutes)
    }

    fn key(whose: &str, text: &str) -> Shown {
        Shown { what: What::SeatKey, whose: whose.to_owned(), text: text.to_owned() }
    }

    #[test]
    fn each_sign_in_sees_its_own_until_it_is_cleared() {
        let shown = ShownOnce::default();
        shown.put([1; 32], key("Teodora", "mango lamp river otter"), at(0));
        assert_eq!(shown.list(&[1; 32]), [key("Teodora", "mango lamp river otter")]);
        assert!(shown.list(&[2; 32]).is_empty());
        shown.clear(&[1; 32]);
        assert!(shown.list(&[1; 32]).is_empty());
    }

    #[test]
    fn a_newer_key_of_the_same_person_replaces_the_older_and_old_ones_fade() {
        let shown = ShownOnce::default();
        shown.put([1; 32], key("Teodora", "old"), at(0));
        shown.put([1; 32], key("Anselm", "other"), at(0));
        shown.put([1; 32], key("Teodora", "new"), at(1));
        assert_eq!(shown.list(&[1; 32]), [key("Anselm", "other"), key("Teodora", "new")]);
        shown.clear_of(&[1; 32], "Anselm");
        assert_eq!(shown.list(&[1; 32]), [key("Teodora", "new")]);
        shown.put([2; 32], key("Ilse", "late"), at(13 * 60));
        assert!(shown.list(&[1; 32]).is_empty());
    }
}
