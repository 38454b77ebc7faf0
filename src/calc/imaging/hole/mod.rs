//! The hole in a plate from a scan: found, then measured at the half level of its edge.

mod coverage;
mod edge;
mod finding;
#[cfg(test)]
mod laws;
mod reading;
mod uncertainty;

#[cfg(test)]
pub(super) use edge::smoothed;
pub use edge::{Contour, contour};
pub use finding::{Candidates, candidates};
pub use reading::{Found, HoleReading, read};
pub use uncertainty::{EDGE_LEVEL, SCALE, Uncertainty};
