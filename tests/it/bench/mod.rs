//! Stories at the bench.

mod camera;
mod exposures;
mod hole;
mod marks;
mod sheets;
mod trays;
