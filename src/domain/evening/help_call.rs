//! A student asks for somebody to come.

use crate::domain::{
    ids::{HelpCallId, StudentId},
    instant::Instant,
};

/// A call for help that nobody has answered yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HelpCall {
    /// Its id.
    pub id: HelpCallId,
    /// Who calls.
    pub student: StudentId,
    /// Why, in a few words.
    pub why: String,
    /// Since when.
    pub called: Instant,
}
