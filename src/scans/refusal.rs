//! Why a file is not read.

use std::fmt;

/// Why a file is not read as a scan. Displays as the word that scripts see.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// There is no such file, or it may not be opened.
    CannotBeRead,
    /// Not a single byte.
    Empty,
    /// Not a picture.
    NotAnImage,
    /// A picture, but not a PNG, JPEG or TIFF of a kind that is read.
    UnsupportedFormat,
    /// Cut off, or its sums do not fit.
    Damaged,
    /// 250 megapixels or more.
    TooLarge,
    /// Printing inks, floating point and the like.
    UnsupportedColour,
    /// Fewer than eight bits of grey.
    NoGreyLevels,
    /// A hole cannot be measured without the resolution.
    NoResolution,
}

impl Refusal {
    /// The word that scripts see.
    pub const fn word(self) -> &'static str {
        match self {
            Self::CannotBeRead => "cannot be read",
            Self::Empty => "empty file",
            Self::NotAnImage => "not an image",
            Self::UnsupportedFormat => "unsupported format",
            Self::Damaged => "damaged file",
            Self::TooLarge => "too large",
            Self::UnsupportedColour => "unsupported colour",
            Self::NoGreyLevels => "no grey levels",
            Self::NoResolution => "no resolution",
        }
    }

    /// What a person is told, with the way out.
    pub const fn advice(self) -> &'static str {
        match self {
            Self::CannotBeRead => "The file cannot be opened. Is the name right?",
            Self::Empty => "The file is empty. Save the scan again.",
            Self::NotAnImage => "This is no picture. Save the scan as PNG, TIFF or JPEG.",
            Self::UnsupportedFormat => "Pictures of this kind are not read. Save the scan as PNG, TIFF or JPEG.",
            Self::Damaged => "The file is damaged or was cut off on its way. Send it again.",
            Self::TooLarge => {
                "The picture has 250 megapixels or more. Scan at a lower resolution, or only the part that matters."
            }
            Self::UnsupportedColour => {
                "The colours of this picture do not tell how much light the paper reflects. Scan as grey or RGB, 8 or 16 bit."
            }
            Self::NoGreyLevels => "The picture has only black and white or a few greys. Scan as grey, 8 or 16 bit.",
            Self::NoResolution => {
                "The file does not say how many pixels make an inch, and a hole has no size without that. Give the resolution of the scan."
            }
        }
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl std::error::Error for Refusal {}
