//! Slows wrong tries, by what is tried and from where: a delay, never a lock-out, since a whole class may share one
//! address. Tries under one key run one after another, and each counts as wrong from its beginning until it is known to be
//! right; so many at once get no further than as many in a row. Whoever must wait is told how long, and holds no
//! connection meanwhile.

use std::{
    collections::HashMap,
    sync::{
        Arc, Mutex, MutexGuard, PoisonError,
        atomic::{AtomicU64, AtomicUsize, Ordering},
    },
};

use tokio::sync::{Mutex as Line, OwnedMutexGuard};

use crate::{clock::World, domain::instant::Instant};

/// The first delay; it doubles with each further wrong try.
const FIRST_DELAY_MS: i64 = 500;
/// How many keys are remembered; past that those with the fewest wrong tries are dropped, the oldest first, so that memory
/// stays bounded and nobody forgets a count by filling it.
const MOST_KEYS: usize = 20_000;
/// So many tries under one key stand in line: a class that joins at once. The next is told to come again.
const LONGEST_LINE: usize = 60;

/// How tries under a key are slowed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    /// Wrong tries that cost nothing: people mistype.
    free: i64,
    /// The longest delay, in milliseconds.
    longest_ms: i64,
    /// One wrong try is forgotten after so many seconds.
    forget_s: i64,
}

impl Pace {
    /// One person's tries: an account's password, a partner's number.
    pub const PERSON: Self = Self { free: 4, longest_ms: 8_000, forget_s: 180 };
    /// An account's password from wherever it is tried. It only matters where one guesses from many addresses.
    pub const ACCOUNT: Self = Self { free: 100, longest_ms: 2_000, forget_s: 10 };
    /// What is tried from one address, behind which a class may sit.
    pub const ADDRESS: Self = Self { free: 24, longest_ms: 8_000, forget_s: 15 };
    /// Door codes tried from anywhere: one of 57,600 codes proposed, found at this pace, takes the better part of
    /// a day, and from one address days.
    pub const DOOR: Self = Self { free: 120, longest_ms: 2_000, forget_s: 2 };

    fn delay_ms(self, wrong: i64) -> i64 {
        let over = wrong - self.free;
        if over <= 0 { 0 } else { (FIRST_DELAY_MS << (over - 1).min(10)).min(self.longest_ms) }
    }
}

/// How long to wait before trying again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wait {
    /// Whole seconds, one at least.
    pub seconds: u64,
}

impl Wait {
    fn of_ms(ms: i64) -> Self {
        Self { seconds: u64::try_from(ms).unwrap_or(0).div_ceil(1_000).max(1) }
    }

    /// What whoever must wait is told.
    pub fn words(self) -> String {
        let seconds = if self.seconds == 1 { "1 second".to_owned() } else { format!("{} seconds", self.seconds) };
        format!("there were several wrong tries: wait {seconds}, then send it again; what you typed is still here")
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
struct Tries {
    wrong: i64,
    last: Instant,
    pace: Pace,
}

impl Tries {
    fn remaining(self, now: Instant) -> i64 {
        let forgotten = now.micros_since(self.last).max(0) / (self.pace.forget_s * 1_000_000);
        (self.wrong - forgotten).max(0)
    }

    fn wait(self, now: Instant) -> Option<Wait> {
        let passed_ms = now.micros_since(self.last).max(0) / 1_000;
        let left = self.pace.delay_ms(self.wrong) - passed_ms;
        (left > 0).then(|| Wait::of_ms(left))
    }
}

#[derive(Debug, Default)]
struct Key {
    tries: Option<Tries>,
    line: Arc<Line<()>>,
    standing: Arc<AtomicUsize>,
}

/// Wrong tries by key.
#[derive(Debug, Default)]
pub struct Slowdown {
    keys: Mutex<HashMap<String, Key>>,
    refused: AtomicU64,
}

/// Somebody in the line of a key, until dropped.
#[derive(Debug)]
struct Standing(Arc<AtomicUsize>);

impl Drop for Standing {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::SeqCst);
    }
}

/// A try's own count under one key.
#[derive(Debug)]
struct Counted {
    name: String,
    before: Option<Tries>,
    with: Tries,
}

/// A try under way. It stays counted as wrong unless it is said to be [`Try::right`]; until it is dropped the next one
/// under its key waits.
#[derive(Debug)]
#[must_use = "a try that is dropped counts as wrong"]
pub struct Try<'a> {
    slowdown: &'a Slowdown,
    counted: Vec<Counted>,
    _turn: OwnedMutexGuard<()>,
    _standing: Standing,
}

impl Try<'_> {
    /// It was right, or no guess at all: its own count is taken away, and no other.
    pub fn right(self) {
        let mut keys = self.slowdown.lock();
        for own in &self.counted {
            let Some(key) = keys.get_mut(&own.name) else { continue };
            match &mut key.tries {
                // nothing came after it: all is as it was before
                tries if *tries == Some(own.with) => *tries = own.before,
                Some(tries) => tries.wrong = (tries.wrong - 1).max(0),
                None => {}
            }
        }
    }
}

impl Slowdown {
    fn lock(&self) -> MutexGuard<'_, HashMap<String, Key>> {
        self.keys.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Begins a try under `key`, and under `in_all` for what is counted from wherever it is tried. Waits only for tries
    /// under the same key to be done, never for time to pass.
    ///
    /// # Errors
    /// How long to wait, where there were too many wrong tries or too many stand in line.
    pub async fn begin(
        &self,
        (key, pace): (&str, Pace),
        in_all: Option<(&str, Pace)>,
        world: &World,
    ) -> Result<Try<'_>, Wait> {
        let (line, standing) = {
            let mut keys = self.lock();
            make_room(&mut keys, world.now());
            let key = keys.entry(key.to_owned()).or_default();
            let before = key.standing.fetch_add(1, Ordering::SeqCst);
            let standing = Standing(Arc::clone(&key.standing));
            if before >= LONGEST_LINE {
                self.refused.fetch_add(1, Ordering::Relaxed);
                return Err(Wait { seconds: 5 });
            }
            (Arc::clone(&key.line), standing)
        };
        let turn = line.lock_owned().await;
        let now = world.now();
        let mut keys = self.lock();
        let wanted: Vec<(&str, Pace)> = [Some((key, pace)), in_all].into_iter().flatten().collect();
        for (name, _) in &wanted {
            if let Some(wait) = keys.get(*name).and_then(|key| key.tries).and_then(|tries| tries.wait(now)) {
                self.refused.fetch_add(1, Ordering::Relaxed);
                return Err(wait);
            }
        }
        let counted = wanted.into_iter().map(|(name, pace)| count_wrong(&mut keys, name, pace, now)).collect();
        drop(keys);
        Ok(Try { slowdown: self, counted, _turn: turn, _standing: standing })
    }

    /// Counts a try that turned out wrong, where right ones never wait; gives how long its key has to wait already.
    pub fn wrong(&self, key: &str, pace: Pace, now: Instant) -> Option<Wait> {
        let mut keys = self.lock();
        make_room(&mut keys, now);
        let waits = keys.get(key).and_then(|key| key.tries).and_then(|tries| tries.wait(now));
        match waits {
            // counting on would make it wait for ever
            Some(_) => {
                self.refused.fetch_add(1, Ordering::Relaxed);
            }
            None => {
                count_wrong(&mut keys, key, pace, now);
            }
        }
        waits
    }

    /// Forgets the tries under this key and those that begin with it: what was guessed at is another secret now.
    pub fn forget(&self, key: &str) {
        self.lock().retain(|name, _| {
            let rest = name.strip_prefix(key);
            !rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(['@', '#']))
        });
    }

    /// How many tries were told to wait since the server was started.
    pub fn refused(&self) -> u64 {
        self.refused.load(Ordering::Relaxed)
    }
}

fn count_wrong(keys: &mut HashMap<String, Key>, name: &str, pace: Pace, now: Instant) -> Counted {
    let key = keys.entry(name.to_owned()).or_default();
    let before = key.tries;
    let with = Tries { wrong: before.map_or(0, |tries| tries.remaining(now)) + 1, last: now, pace };
    key.tries = Some(with);
    Counted { name: name.to_owned(), before, with }
}

fn make_room(keys: &mut HashMap<String, Key>, now: Instant) {
    if keys.len() < MOST_KEYS {
        return;
    }
    let counted = |key: &Key| key.tries.map_or(0, |tries| tries.remaining(now));
    let in_use = |key: &Key| key.standing.load(Ordering::SeqCst) > 0;
    keys.retain(|_, key| in_use(key) || counted(key) > 0);
    if keys.len() < MOST_KEYS {
        return;
    }
    let mut all: Vec<(i64, Option<Instant>, String)> = keys
        .iter()
        .filter(|(_, key)| !in_use(key))
        .map(|(name, key)| (counted(key), key.tries.map(|tries| tries.last), name.clone()))
        .collect();
    all.sort_unstable();
    // a tenth at once, so that it need not be done for each
    for (_, _, name) in all.into_iter().take(MOST_KEYS / 10) {
        keys.remove(&name);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn start() -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range")
    }

    async fn tries(slow: &Slowdown, key: &str, world: &World) -> Result<(), Wait> {
        slow.begin((key, Pace::PERSON), None, world).await.map(drop)
    }

    #[tokio::test]
    async fn a_few_slips_cost_nothing_then_the_wait_doubles_up_to_eight_seconds() {
        let (slow, world) = (Slowdown::default(), World::fixed(start()));
        let mut waits = Vec::new();
        for _ in 0..10 {
            let wait = tries(&slow, "account:pat", &world).await.err().map_or(0, |wait| wait.seconds);
            waits.push(wait);
            if wait > 0 {
                let later =
                    Instant::from_micros(world.now().as_micros() + i64::try_from(wait).expect("small") * 1_000_000);
                world.clock.set(later.expect("in range"));
                tries(&slow, "account:pat", &world).await.expect("after the wait it is let through");
            }
        }
        assert_eq!(waits, [0, 0, 0, 0, 0, 1, 1, 2, 4, 8]);
        assert!(tries(&slow, "account:ines", &world).await.is_ok(), "another key does not wait");
    }

    #[tokio::test]
    async fn being_told_to_wait_does_not_make_the_wait_longer() {
        let (slow, world) = (Slowdown::default(), World::fixed(start()));
        for _ in 0..500 {
            let _ = tries(&slow, "account:pat", &world).await;
        }
        assert_eq!(tries(&slow, "account:pat", &world).await, Err(Wait { seconds: 1 }));
    }

    #[tokio::test]
    async fn success_takes_its_own_try_away_and_no_other() {
        let (slow, world) = (Slowdown::default(), World::fixed(start()));
        for _ in 0..4 {
            tries(&slow, "account:pat", &world).await.expect("free");
            slow.begin(("account:pat", Pace::PERSON), None, &world).await.expect("free").right();
        }
        tries(&slow, "account:pat", &world).await.expect("the fifth begins the wait");
        assert!(tries(&slow, "account:pat", &world).await.is_err());
    }

    #[tokio::test]
    async fn what_is_counted_in_all_slows_whoever_tries() {
        let (slow, world) = (Slowdown::default(), World::fixed(start()));
        let all = Pace { free: 10, ..Pace::DOOR };
        for address in 0..11 {
            let key = format!("code@{address}");
            drop(slow.begin((&key, Pace::ADDRESS), Some(("codes", all)), &world).await.expect("let through"));
        }
        assert!(slow.begin(("code@new", Pace::ADDRESS), Some(("codes", all)), &world).await.is_err());
    }

    #[tokio::test]
    async fn wrong_tries_are_forgotten_with_time_and_with_the_secret() {
        let (slow, world) = (Slowdown::default(), World::fixed(start()));
        for key in ["account:pat@192.0.2.7", "account:pat#mark", "account:patrick@192.0.2.7"] {
            for _ in 0..5 {
                tries(&slow, key, &world).await.expect("free");
            }
            assert!(tries(&slow, key, &world).await.is_err());
        }
        slow.forget("account:pat");
        for (key, waits) in
            [("account:pat@192.0.2.7", false), ("account:pat#mark", false), ("account:patrick@192.0.2.7", true)]
        {
            assert_eq!(tries(&slow, key, &world).await.is_err(), waits, "{key}");
        }
        world.clock.forward_minutes(60);
        for _ in 0..5 {
            tries(&slow, "account:patrick@192.0.2.7", &world).await.expect("all forgotten after an hour");
        }
    }

    #[tokio::test]
    async fn the_line_is_bounded_and_filling_the_memory_forgets_no_high_count() {
        let (slow, world) = (Slowdown::default(), World::fixed(start()));
        let first = slow.begin(("code", Pace::ADDRESS), None, &world).await.expect("free");
        let waiting: Vec<_> = (1..LONGEST_LINE).map(|_| slow.begin(("code", Pace::ADDRESS), None, &world)).collect();
        let mut waiting: Vec<_> = waiting.into_iter().map(Box::pin).collect();
        for one in &mut waiting {
            assert!(futures_util::FutureExt::now_or_never(one).is_none(), "in line");
        }
        assert_eq!(slow.begin(("code", Pace::ADDRESS), None, &world).await.err(), Some(Wait { seconds: 5 }));
        drop((waiting, first));
        for _ in 0..6 {
            let _ = tries(&slow, "account:pat", &world).await;
        }
        for number in 0..MOST_KEYS + 10 {
            slow.wrong(&format!("seat@{number}"), Pace::ADDRESS, world.now());
        }
        assert!(slow.lock().len() <= MOST_KEYS);
        assert!(tries(&slow, "account:pat", &world).await.is_err());
    }
}
