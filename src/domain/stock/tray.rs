//! The trays of the stockroom, by the sheet they are made for.

use super::sheet::Sheet;
use crate::domain::ids::{SiteId, TrayId};

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

/// The smallest trays whose name does not speak against the sheet: the second smallest when there is
/// one, since the smallest are seldom a class's.
pub fn fitting<'a>(at_hand: &'a [Tray], sheet: &Sheet) -> Option<&'a Tray> {
    // a sheet of 4 x 5 in floats freely in a litre
    let least_ul = if sheet.area_mm2() > 25_000 { 1_500_000 } else { 1_000_000 };
    at_hand.iter().find(|tray| tray.holds_ul >= least_ul).or_else(|| at_hand.last())
}
