//! Waste containers and what becomes of them.

pub mod container_clocks;
pub mod containers;
pub mod deadlines;
pub mod given_statements;
pub mod kept_deadlines;
pub mod looks;
pub mod readings;
pub mod recoveries;
pub mod removals;
pub mod scraps;
