//! Time and chance, handed in wherever they are needed, so that tests and the demo can fix them.

use std::sync::{
    Arc, Mutex,
    atomic::{AtomicI64, AtomicU64, Ordering},
};

use sha2::{Digest, Sha256};

use crate::domain::{ids::Id, instant::Instant};

/// Where the time comes from.
#[derive(Clone, Debug)]
pub enum Clock {
    /// The machine's clock.
    System,
    /// A clock that stands still until it is moved.
    Fixed(Arc<AtomicI64>),
}

impl Clock {
    /// A clock standing at `at`.
    pub fn fixed(at: Instant) -> Self {
        Self::Fixed(Arc::new(AtomicI64::new(at.as_micros())))
    }

    /// The present moment.
    pub fn now(&self) -> Instant {
        match self {
            Self::System => {
                #[expect(clippy::disallowed_methods, reason = "the one place where time enters")]
                let now = jiff::Timestamp::now();
                // a machine that lost its battery may stand before 1970: the nearest moment there is, and every page
                // says that the clock is wrong
                let nearest = now.as_microsecond().clamp(0, Instant::LAST_MICROS);
                Instant::from_micros(nearest).expect("within the range")
            }
            Self::Fixed(micros) => {
                Instant::from_micros(micros.load(Ordering::SeqCst)).expect("a fixed clock is set within the range")
            }
        }
    }

    /// Moves a fixed clock forward; does nothing to the machine's.
    pub fn forward_minutes(&self, minutes: i64) {
        if let Self::Fixed(micros) = self {
            micros.fetch_add(minutes * 60_000_000, Ordering::SeqCst);
        }
    }

    /// Sets a fixed clock; does nothing to the machine's.
    pub fn set(&self, at: Instant) {
        if let Self::Fixed(micros) = self {
            micros.store(at.as_micros(), Ordering::SeqCst);
        }
    }
}

/// Where chance comes from.
#[derive(Clone, Debug)]
pub enum Chance {
    /// The operating system's random numbers.
    System,
    /// A stream that is the same for the same seed: for tests and the demo, never for real secrets.
    Seeded(Arc<Stream>),
}

/// A repeatable stream of bytes: SHA-256 of a seed and a counter.
#[derive(Debug)]
pub struct Stream {
    seed: [u8; 32],
    counter: AtomicU64,
    spare: Mutex<Vec<u8>>,
}

impl Chance {
    /// A repeatable stream.
    pub fn seeded(seed: &str) -> Self {
        Self::Seeded(Arc::new(Stream {
            seed: Sha256::digest(seed.as_bytes()).into(),
            counter: AtomicU64::new(0),
            spare: Mutex::new(Vec::new()),
        }))
    }

    /// Fills `bytes`.
    pub fn fill(&self, bytes: &mut [u8]) {
        match self {
            Self::System => {
                #[expect(clippy::disallowed_methods, reason = "the one place where chance enters")]
                getrandom::fill(bytes).expect("the operating system gives random numbers");
            }
            Self::Seeded(stream) => {
                let mut spare = stream.spare.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
                while spare.len() < bytes.len() {
                    let count = stream.counter.fetch_add(1, Ordering::SeqCst);
                    let mut hasher = Sha256::new();
                    hasher.update(stream.seed);
                    hasher.update(count.to_be_bytes());
                    spare.extend_from_slice(&hasher.finalize());
                }
                let rest = spare.split_off(bytes.len());
                bytes.copy_from_slice(&spare);
                *spare = rest;
            }
        }
    }

    /// So many random bytes.
    pub fn bytes<const N: usize>(&self) -> [u8; N] {
        let mut bytes = [0; N];
        self.fill(&mut bytes);
        bytes
    }

    /// A whole number from 0 up to, not including, `bound` (at most 2^32), each equally likely.
    pub fn below(&self, bound: u32) -> u32 {
        assert!(bound > 0, "no number lies below zero");
        // refuse the uneven rest of the range instead of folding it onto the small numbers
        let limit = u32::MAX - u32::MAX % bound;
        loop {
            let number = u32::from_be_bytes(self.bytes());
            if number < limit {
                return number % bound;
            }
        }
    }
}

/// Time and chance together.
#[derive(Clone, Debug)]
pub struct World {
    /// The clock.
    pub clock: Clock,
    /// The source of chance.
    pub chance: Chance,
}

impl World {
    /// The machine's clock and the operating system's chance.
    pub fn system() -> Self {
        Self { clock: Clock::System, chance: Chance::System }
    }

    /// A standing clock and a repeatable stream.
    pub fn fixed(at: Instant) -> Self {
        Self { clock: Clock::fixed(at), chance: Chance::seeded("shimlight") }
    }

    /// The present moment.
    pub fn now(&self) -> Instant {
        self.clock.now()
    }

    /// A new id (UUIDv7 of the present moment).
    pub fn mint<T: Id>(&self) -> T {
        let millis = u64::try_from(self.now().as_micros() / 1000).unwrap_or(0);
        let random = self.chance.bytes::<10>();
        T::from_uuid(uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::ids::CameraId;

    #[test]
    fn the_same_seed_gives_the_same_ids_in_the_same_order() {
        let at = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        let (one, two) = (World::fixed(at), World::fixed(at));
        let first: Vec<CameraId> = (0..3).map(|_| one.mint()).collect();
        let second: Vec<CameraId> = (0..3).map(|_| two.mint()).collect();
        assert_eq!(first, second);
        assert_ne!(first[0], first[1]);
    }

    #[test]
    fn numbers_below_a_bound_stay_below_it() {
        let chance = Chance::seeded("a box of needles");
        assert!((0..2000).all(|_| chance.below(7) < 7));
    }
}
