//! Slows wrong tries, by account or code: a delay, never a lock-out, since a whole class may share
//! one address.

use std::{
    collections::HashMap,
    sync::{Mutex, PoisonError},
    time::Duration,
};

use crate::domain::instant::Instant;

/// Wrong tries that cost nothing: people mistype.
const FREE_TRIES: u32 = 4;
/// The first delay; it doubles with each further wrong try.
const FIRST_DELAY_MS: u64 = 500;
/// The longest delay.
const LONGEST_DELAY_MS: u64 = 8_000;
/// One wrong try is forgotten after so long.
const FORGET_MINUTES: i64 = 3;
/// How many keys are remembered; past that the oldest are dropped, so that memory stays bounded.
const MOST_KEYS: usize = 20_000;

#[derive(Clone, Copy, Debug)]
struct Tries {
    wrong: u32,
    last: Instant,
}

/// Wrong tries by key (`account:name`, `code:ABCD`, `seat:address`).
#[derive(Debug, Default)]
pub struct Slowdown {
    tries: Mutex<HashMap<String, Tries>>,
}

impl Slowdown {
    /// How long the answer to a try under this key must wait.
    pub fn delay(&self, key: &str, now: Instant) -> Duration {
        let tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        let wrong = tries.get(key).map_or(0, |tries| remaining(*tries, now));
        let over = wrong.saturating_sub(FREE_TRIES);
        if over == 0 {
            return Duration::ZERO;
        }
        let doubled = FIRST_DELAY_MS.saturating_mul(1 << (over - 1).min(10));
        Duration::from_millis(doubled.min(LONGEST_DELAY_MS))
    }

    /// Notes a wrong try.
    pub fn wrong(&self, key: &str, now: Instant) {
        let mut tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        if tries.len() >= MOST_KEYS {
            tries.retain(|_, tries| remaining(*tries, now) > 0);
        }
        if tries.len() >= MOST_KEYS {
            tries.clear();
        }
        let entry = tries.entry(key.to_owned()).or_insert(Tries { wrong: 0, last: now });
        *entry = Tries { wrong: remaining(*entry, now).saturating_add(1), last: now };
    }

    /// A right try clears the key.
    pub fn right(&self, key: &str) {
        self.tries.lock().unwrap_or_else(PoisonError::into_inner).remove(key);
    }
}

fn remaining(tries: Tries, now: Instant) -> u32 {
    let forgotten = now.micros_since(tries.last).max(0) / (FORGET_MINUTES * 60_000_000);
    tries.wrong.saturating_sub(u32::try_from(forgotten).unwrap_or(u32::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minutes: i64) -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range").plus_minutes(minutes)
    }

    #[test]
    fn a_few_slips_cost_nothing_then_the_wait_doubles_up_to_eight_seconds() {
        let slow = Slowdown::default();
        let mut waits = Vec::new();
        for _ in 0..12 {
            slow.wrong("code:QUAY", at(0));
            waits.push(slow.delay("code:QUAY", at(0)).as_millis());
        }
        assert_eq!(waits, [0, 0, 0, 0, 500, 1000, 2000, 4000, 8000, 8000, 8000, 8000]);
        assert_eq!(slow.delay("code:OTHER", at(0)), Duration::ZERO);
    }

    #[test]
    fn wrong_tries_are_forgotten_with_time_and_at_a_right_one() {
        let slow = Slowdown::default();
        for _ in 0..6 {
            slow.wrong("account:pat", at(0));
        }
        assert_eq!(slow.delay("account:pat", at(4)), Duration::from_millis(500));
        assert_eq!(slow.delay("account:pat", at(60)), Duration::ZERO);
        slow.right("account:pat");
        assert_eq!(slow.delay("account:pat", at(0)), Duration::ZERO);
    }
}
