//! Stories at the bench.

mod camera;
