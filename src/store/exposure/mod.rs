//! Sheets exposed and printed.

pub mod exposure_lines;
pub mod exposures;
pub mod prints;
