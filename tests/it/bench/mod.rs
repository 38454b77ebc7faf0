//! Stories at the bench.

mod camera;
mod hole;
