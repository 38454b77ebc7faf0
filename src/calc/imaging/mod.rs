//! Scans: the hole in its plate, the paper negative and the step strip, from a picture's codes to what was found.
//!
//! Pure: no files, no decoding. A picture comes in as a [`grid::Raster`] of codes with the value of each code.

pub mod curve;
#[cfg(test)]
mod drawn;
pub mod geometry;
pub mod grid;
pub mod hole;
pub mod pieces;
pub mod positive;
pub mod scan;
pub mod sheet;
pub mod steps;
pub mod surface;
pub mod transfer;
