//! Pictures of what was found, for `--preview`.

use std::io;

use crate::calc::imaging::grid::{Grid, Raster};
use crate::calc::imaging::hole::HoleReading;
use crate::scans::preview::{enlarged, grey_png};

/// The longer side of a picture of the whole scan, in pixels.
const LONGEST: usize = 1200;

/// The print of a negative.
pub fn positive(positive: &Grid) -> io::Result<Vec<u8>> {
    grey_png(positive)
}

/// The scan, smaller.
pub fn whole(raster: &Raster) -> io::Result<Vec<u8>> {
    let small = raster.reduced(raster.width().max(raster.height()).div_ceil(LONGEST));
    grey_png(&small.map(|light| light.sqrt()))
}

/// The neighbourhood of a hole, enlarged, with the edge as it was found.
pub fn hole(raster: &Raster, hole: Option<&HoleReading>) -> io::Result<Vec<u8>> {
    let Some(hole) = hole else { return whole(raster) };
    grey_png(&enlarged(raster, &hole.edge))
}
