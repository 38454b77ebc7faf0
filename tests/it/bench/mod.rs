//! Stories at the bench.

mod camera;
mod evening;
mod exposures;
mod hole;
mod home;
mod marks;
mod optics;
mod own_figures;
pub mod pictures;
mod prints;
mod report;
pub mod sheets;
mod timer;
mod trays;
