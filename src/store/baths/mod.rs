//! Batches, the trays they stand in, the sheets put through them.

pub mod batches;
pub mod clearing_tests;
pub mod sheet_runs;
pub mod tray_lines;
pub mod tray_slots;
