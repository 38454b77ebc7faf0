//! Something let go under somebody's authority. The software never proposes it.

use jiff::civil::Date;

use crate::domain::ids::{DischargeId, MovementId};

/// Who allowed it, and by which paper.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Discharge {
    /// Its id.
    pub id: DischargeId,
    /// The movement it is.
    pub movement: MovementId,
    /// The authority that allowed it.
    pub authority: String,
    /// Its permit or letter; empty in one written down before that was a field of its own.
    pub reference: String,
    /// The date of that paper.
    pub reference_on: Option<Date>,
}

impl Discharge {
    /// All of it on one line: `Harbour sewer works, permit 12 of 2026-01-05` (invented).
    pub fn in_words(&self) -> String {
        let mut words = self.authority.clone();
        if !self.reference.is_empty() {
            words.push_str(&format!(", {}", self.reference));
        }
        if let Some(on) = self.reference_on {
            words.push_str(&format!(" of {on}"));
        }
        words
    }
}
