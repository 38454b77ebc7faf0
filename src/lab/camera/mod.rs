//! Cameras.

pub mod registering;
