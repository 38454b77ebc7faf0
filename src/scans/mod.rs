//! Scans from their files: PNG, JPEG and TIFF into grey rows, with what their headers say.
//!
//! A picture is never held as colour: rows become grey as they are decoded (a JPEG, whose decoder gives the whole
//! picture, is the one exception), and the picture is turned upright while it is written. Profiles, texts and places
//! of origin are not looked at.

mod exif;
mod grey_rows;
mod jpeg;
mod png_rows;
pub mod preview;
mod refusal;
mod resolution;
mod tiff_rows;

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};
use std::path::Path;

use crate::calc::imaging::grid::Raster;
use crate::calc::imaging::transfer::Transfer;

pub use refusal::Refusal;

/// From this many pixels on a picture is refused before it is decoded.
pub const TOO_MANY_PIXELS: u64 = 250_000_000;

/// A picture, upright, with what its file says about it.
#[derive(Clone, Debug)]
pub struct Picture {
    /// The codes with what they stand for.
    pub raster: Raster,
    /// Pixels to the inch, when the file says so and it can be true.
    pub dpi: Option<f64>,
    /// What a person should know, in plain sentences.
    pub warnings: Vec<&'static str>,
}

/// A picture that is refused, with its size when the header could be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Refused {
    /// Why.
    pub why: Refusal,
    /// Width and height as shown.
    pub size: Option<(u32, u32)>,
}

impl From<Refusal> for Refused {
    fn from(why: Refusal) -> Self {
        Self { why, size: None }
    }
}

/// Reads the file at a path. `transfer` is how its codes stand for reflectance.
///
/// # Errors
/// [`Refused`] when it is no picture, damaged, too large, or has colours that are no reflectances.
pub fn read_file(path: &Path, transfer: Transfer) -> Result<Picture, Refused> {
    let file = File::open(path).map_err(|_| Refusal::CannotBeRead)?;
    if !file.metadata().is_ok_and(|about| about.is_file()) {
        return Err(Refusal::CannotBeRead.into());
    }
    read(BufReader::with_capacity(1 << 16, file), transfer)
}

/// Reads a picture from anything that can be read and wound back.
///
/// # Errors
/// As [`read_file`].
pub fn read<R: BufRead + Seek>(mut source: R, transfer: Transfer) -> Result<Picture, Refused> {
    let mut start = [0; 16];
    let read = fill(&mut source, &mut start).map_err(|_| Refusal::CannotBeRead)?;
    source.seek(SeekFrom::Start(0)).map_err(|_| Refusal::CannotBeRead)?;
    match &start[..read] {
        [] => Err(Refusal::Empty.into()),
        [0x89, b'P', b'N', b'G', ..] => png_rows::read(source, transfer),
        [0xff, 0xd8, 0xff, ..] => jpeg::read(source, transfer),
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => tiff_rows::read(source, transfer),
        start if is_another_picture(start) => Err(Refusal::UnsupportedFormat.into()),
        _ => Err(Refusal::NotAnImage.into()),
    }
}

/// GIF, BMP, WebP, HEIF, JPEG 2000, JPEG XL: pictures, but none that a scanner's reading can rest on.
fn is_another_picture(start: &[u8]) -> bool {
    start.starts_with(b"GIF8")
        || start.starts_with(b"BM")
        || (start.starts_with(b"RIFF") && start.get(8..12) == Some(b"WEBP".as_slice()))
        || matches!(start.get(4..8), Some(b"ftyp" | b"jP  " | b"JXL "))
        || start.starts_with(&[0xff, 0x0a])
}

fn fill(source: &mut impl Read, into: &mut [u8]) -> io::Result<usize> {
    let mut filled = 0;
    while filled < into.len() {
        match source.read(&mut into[filled..]) {
            Ok(0) => break,
            Ok(read) => filled += read,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(filled)
}

/// What every reader asks first: a size that can be worked with.
fn checked_size(width: u32, height: u32) -> Result<(), Refused> {
    let why = match u64::from(width) * u64::from(height) {
        0 => Refusal::Damaged,
        TOO_MANY_PIXELS.. => Refusal::TooLarge,
        _ => return Ok(()),
    };
    Err(Refused { why, size: Some((width, height)) })
}
