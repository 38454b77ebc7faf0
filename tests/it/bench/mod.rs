//! Stories at the bench.

mod camera;
mod evening;
mod exposures;
mod film;
mod hole;
mod home;
mod light;
mod marks;
mod one_scale;
mod optics;
mod own_figures;
pub mod pictures;
mod pile;
mod prints;
mod report;
pub mod sheets;
mod shown;
mod timer;
mod trays;
