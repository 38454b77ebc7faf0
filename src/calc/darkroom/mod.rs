//! The darkroom: mixing, developing, and how much a bath can take.

pub mod capacity;
pub mod development;
pub mod dilution;
pub mod sheet;
