//! The sheet of paper in a scan: found, straightened, and a paper negative read from it.

mod area;
mod base;
mod exposure;
mod faults;
mod finding;
#[cfg(test)]
mod laws;
mod reading;
mod sides;
mod straight;

pub use area::{PictureArea, Shape};
pub use base::{Base, BaseFrom, base};
pub use exposure::{ExposureError, Known, exposure_error};
pub use faults::{Fault, faults};
pub use finding::{Outline, Sheets, sheets};
pub use reading::{SheetFound, SheetReading, SheetVerdict, Told, read};
pub use straight::{Straight, straight};
