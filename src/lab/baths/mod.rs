//! Sheets in the trays.

pub mod through_trays;
