//! A mistake beside the book that was taken back: it stays in sight, with its reason.

use crate::domain::{ids::PersonId, instant::Instant};

/// When, by whom and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenBack {
    /// When.
    pub at: Instant,
    /// By whom.
    pub by: PersonId,
    /// Why.
    pub why: String,
}

impl TakenBack {
    /// From a row's columns; `None` while it stands.
    pub fn from_columns(at: Option<Instant>, by: Option<PersonId>, why: String) -> Option<Self> {
        Some(Self { at: at?, by: by?, why })
    }
}
