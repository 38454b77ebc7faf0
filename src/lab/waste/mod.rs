//! Waste containers.

pub mod looks;
