//! Stories at the bench.

mod camera;
mod exposures;
mod hole;
mod home;
mod marks;
mod prints;
mod report;
pub mod sheets;
mod trays;
