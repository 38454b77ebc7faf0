//! Counts of what the writer did, for whoever watches the server.

use std::{
    sync::atomic::{AtomicU64, Ordering},
    time::Duration,
};

/// What the writer did since it was started.
#[derive(Debug, Default)]
pub struct Commits {
    done: AtomicU64,
    writes: AtomicU64,
    failed: AtomicU64,
    micros: AtomicU64,
}

/// The counts at one moment.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counted {
    /// Groups of writes committed.
    pub commits: u64,
    /// Writes in those groups.
    pub writes: u64,
    /// Groups that the disk did not take.
    pub failed: u64,
    /// The time that all groups took, committed or not.
    pub spent: Duration,
}

impl Commits {
    pub(in crate::store) fn note(&self, writes: usize, committed: bool, spent: Duration) {
        let micros = u64::try_from(spent.as_micros()).unwrap_or(u64::MAX);
        self.micros.fetch_add(micros, Ordering::Relaxed);
        if committed {
            self.done.fetch_add(1, Ordering::Relaxed);
            self.writes.fetch_add(writes as u64, Ordering::Relaxed);
        } else {
            self.failed.fetch_add(1, Ordering::Relaxed);
        }
    }

    /// The counts now.
    pub fn counted(&self) -> Counted {
        let read = |count: &AtomicU64| count.load(Ordering::Relaxed);
        Counted {
            commits: read(&self.done),
            writes: read(&self.writes),
            failed: read(&self.failed),
            spent: Duration::from_micros(read(&self.micros)),
        }
    }
}
