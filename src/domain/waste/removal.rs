//! A waste container taken away by a carrier.

use jiff::civil::Date;

use crate::domain::{
    ids::{ContainerId, MovementId, RemovalId},
    instant::Instant,
};

/// A removal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Removal {
    /// Its id.
    pub id: RemovalId,
    /// The movement it caused.
    pub movement: MovementId,
    /// Which container.
    pub container: ContainerId,
    /// Who took it.
    pub carrier: String,
    /// Where to.
    pub destination: String,
    /// The number of the paper that went with it.
    pub reference: String,
    /// What it weighed, grams, if it was weighed.
    pub mass_g: Option<i64>,
    /// When.
    pub removed_at: Instant,
    /// Whether it went to have its silver reclaimed; not said otherwise.
    pub to_reclaim_silver: bool,
    /// When the signed copy came back.
    pub copy_returned_on: Option<Date>,
    /// When it was taken back as a mistake.
    pub undone_at: Option<Instant>,
    /// Counts edits.
    pub version: i64,
}
