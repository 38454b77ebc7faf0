//! Counts of answers given.

use std::sync::atomic::{AtomicU64, Ordering};

use axum::http::StatusCode;

/// Answers given since the server was started.
#[derive(Debug, Default)]
pub struct Answers {
    /// By the first digit of the status, from 1.
    pub classes: [AtomicU64; 5],
    /// Forms sent back with messages.
    pub refused: AtomicU64,
    /// Forms whose record had changed, or that were sent before.
    pub stale: AtomicU64,
}

impl Answers {
    /// Notes one.
    pub fn note(&self, status: StatusCode) {
        let class = usize::from(status.as_u16() / 100).saturating_sub(1);
        if let Some(count) = self.classes.get(class) {
            count.fetch_add(1, Ordering::Relaxed);
        }
        match status {
            StatusCode::UNPROCESSABLE_ENTITY => self.refused.fetch_add(1, Ordering::Relaxed),
            StatusCode::CONFLICT => self.stale.fetch_add(1, Ordering::Relaxed),
            _ => 0,
        };
    }
}
