//! The trays of the stockroom, by the sheet they are made for.

use super::ids::{SiteId, TrayId};

/// Trays of one size.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tray {
    /// Their id.
    pub id: TrayId,
    /// Whose they are.
    pub site: SiteId,
    /// What they are called: `Trays for 8 × 10 in`.
    pub name: String,
    /// What one must hold to be worked in, microlitres.
    pub holds_ul: i64,
    /// How many there are.
    pub count: i64,
    /// Where the volume comes from.
    pub source: String,
    /// Counts edits.
    pub version: i64,
}
