//! Stories at the bench.

mod camera;
mod hole;
mod marks;
