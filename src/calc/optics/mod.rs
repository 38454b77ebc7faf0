//! The camera: its hole, its field and how the light falls off over the film.

pub mod covered;
pub mod diffraction;
pub mod fall_off;
pub mod field;
pub mod gauges;
pub mod hole_formula;
pub mod micrometer;
pub mod picture;
pub mod plate;
pub mod readings;
pub mod sharpness;
