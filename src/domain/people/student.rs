//! A student on a section's roster.

use crate::domain::{
    ids::{SectionId, StudentId},
    instant::Instant,
};

/// A student.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Student {
    /// The id records keep.
    pub id: StudentId,
    /// Their section.
    pub section: SectionId,
    /// The number on the roster.
    pub roster_number: String,
    /// The name as the roster writes it.
    pub name: String,
    /// Their address, if the roster has it.
    pub email: String,
    /// Not on the roster when they came.
    pub walk_in: bool,
    /// When they joined; `None` until then.
    pub joined_at: Option<Instant>,
    /// When they were struck off; their records stay.
    pub left_at: Option<Instant>,
    /// Whether they work in inches.
    pub inches: bool,
    /// Counts edits.
    pub version: i64,
}
