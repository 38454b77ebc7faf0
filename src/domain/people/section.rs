//! A section: the students of one course group.

use crate::domain::ids::{SectionId, SiteId};

/// A section.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Section {
    /// Its id.
    pub id: SectionId,
    /// Where it works.
    pub site: SiteId,
    /// What it is called.
    pub name: String,
    /// The code on the lab door, in capitals.
    pub door_code: String,
    /// Whether people who are not on the roster may take a seat.
    pub walk_ins: bool,
    /// Counts edits.
    pub version: i64,
}
