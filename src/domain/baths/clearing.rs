//! A clearing test: how long a piece of film takes to clear in a fixer, against the time it took when
//! the fixer was fresh. Twice that time is the sign of an exhausted fixer (`tests/reference` names the manual).

use crate::calc::working::seconds_text;

use super::advice::Advice;
use crate::domain::{
    ids::{BatchId, ClearingTestId, PersonId},
    instant::Instant,
};

/// The time it takes at which a fixer is exhausted, as a multiple of the time when it was fresh.
const EXHAUSTED: f64 = 2.0;
/// From here on it is watched. Common practice, no source.
const NEAR: f64 = 1.5;

/// The two times, milliseconds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ClearingTimes {
    /// In the fresh fixer.
    pub fresh_ms: i64,
    /// Now.
    pub now_ms: i64,
}

/// A test.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClearingTest {
    /// Its id.
    pub id: ClearingTestId,
    /// Of which fixer.
    pub batch: BatchId,
    /// What was timed.
    pub times: ClearingTimes,
    /// When.
    pub tested_at: Instant,
    /// Anything else.
    pub remark: String,
    /// When it was taken back as a mistake.
    pub undone_at: Option<Instant>,
    /// Who wrote it.
    pub recorded_by: PersonId,
}

impl ClearingTimes {
    /// What the test says, and what to do.
    pub fn judged(self) -> (Advice, String) {
        let times = self.now_ms as f64 / self.fresh_ms as f64;
        let said = |ms: i64| seconds_text(ms as f64 / 1000.0);
        let words = format!("film clears in {}, in the fresh fixer in {}", said(self.now_ms), said(self.fresh_ms));
        match times {
            times if times >= EXHAUSTED => (Advice::Change, format!("{words}: twice the time is exhausted")),
            times if times >= NEAR => (Advice::Watch, words),
            _ => (Advice::Use, words),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fixer_that_takes_twice_as_long_is_exhausted() {
        let judged = |now_ms| ClearingTimes { fresh_ms: 30_000, now_ms }.judged().0;
        assert_eq!(judged(30_000), Advice::Use);
        assert_eq!(judged(45_000), Advice::Watch);
        assert_eq!(judged(59_000), Advice::Watch);
        assert_eq!(judged(60_000), Advice::Change);
    }
}
