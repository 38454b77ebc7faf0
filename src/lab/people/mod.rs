//! Keeping what a section did, and forgetting who was in it.

pub mod keeping;
