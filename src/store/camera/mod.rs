//! Cameras, their holes, the film in them.

pub mod cameras;
pub mod films;
pub mod holes;
