//! A strip of paper exposed in known steps: patches, their densities, and the paper's curve through them.

mod fit;
mod patches;
mod reading;

pub use fit::{CurveFit, fit};
pub use patches::{DarkEnd, Patch};
pub use reading::{StripFound, StripReading, StripTold, read};
