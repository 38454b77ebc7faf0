//! The evening: which session counts, and the floor.

pub mod board;
pub mod floor;
pub mod session;
pub mod ways;
