//! JPEG. The decoder gives the whole picture; what it forgives (a file cut off, for one) is looked for here first.

use std::io::{BufRead, Read, Seek};

use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

use crate::calc::imaging::transfer::Transfer;

use super::exif::{self, Exif};
use super::grey_rows::{GreyRows, Samples};
use super::{Picture, Refusal, Refused, checked_size, resolution};

/// More bytes than this are no JPEG of fewer than 250 megapixels.
const MOST_BYTES: u64 = 512 << 20;

pub fn read<R: BufRead + Seek>(mut source: R, transfer: Transfer) -> Result<Picture, Refused> {
    let mut data = Vec::new();
    source.by_ref().take(MOST_BYTES + 1).read_to_end(&mut data).map_err(|_| Refusal::CannotBeRead)?;
    if data.len() as u64 > MOST_BYTES {
        return Err(Refusal::TooLarge.into());
    }
    let header = Header::read(&data)?;
    let (width, height) = (u32::from(header.width), u32::from(header.height));
    checked_size(width, height)?;
    let at = |why| Refused { why, size: Some((width, height)) };
    let (each, colours) = match header.components {
        1 => (1, ColorSpace::Luma),
        3 => (3, ColorSpace::RGB),
        _ => return Err(at(Refusal::UnsupportedColour)),
    };
    if !header.sequential_or_progressive || header.bits != 8 {
        return Err(at(Refusal::UnsupportedFormat));
    }
    let end = header.end.filter(|_| header.is_complete()).ok_or_else(|| at(Refusal::Damaged))?;
    // The decoder reads on past the end of the pixels as if nothing but zeros followed, and gives a picture all the
    // same. No code consists of ones alone (ITU-T T.81, C.2), so over these it stumbles.
    data.truncate(end);
    data.extend([0xff, 0x00].repeat(ONES));
    data.extend([0xff, 0xd9]);
    let options = DecoderOptions::default()
        .set_max_width(65535)
        .set_max_height(65535)
        .set_strict_mode(true)
        .jpeg_set_out_colorspace(colours);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(&data), options);
    let pixels = decoder.decode().map_err(|_| at(Refusal::Damaged))?;
    drop(decoder);
    if pixels.len() != width as usize * height as usize * each {
        return Err(at(Refusal::Damaged));
    }
    let samples = Samples { each, coloured: each == 3, sixteen: false };
    let mut rows = GreyRows::new(width, height, samples, header.exif.orientation.unwrap_or(1), transfer);
    for (y, row) in pixels.chunks_exact(width as usize * each).enumerate() {
        rows.take_8(0, y, row);
    }
    drop(pixels);
    let mut warnings = Vec::new();
    let dpi = header.dpi().map_or(Ok(None), |(x, y)| resolution::dpi(x, y)).unwrap_or_else(|differs| {
        warnings.push(differs);
        None
    });
    let raster = rows.finished().ok_or_else(|| at(Refusal::Damaged))?;
    Ok(Picture { raster, dpi, warnings })
}

/// So many bytes of ones are longer than any code.
const ONES: usize = 32;

/// What the segments before the pixels say, and whether the file is whole (ITU-T T.81, annex B).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Header {
    width: u16,
    height: u16,
    bits: u8,
    components: u8,
    sequential_or_progressive: bool,
    jfif: Option<(f64, f64)>,
    exif: Exif,
    /// Where the marker stands that ends the picture.
    end: Option<usize>,
    /// Each component's own number, and which of its 64 coefficients were sent to their last bit.
    sent: [(u8, u64); 4],
}

impl Header {
    fn read(data: &[u8]) -> Result<Self, Refused> {
        let mut header = Self::default();
        let mut at = 2;
        // a marker may have any number of fill bytes before it
        let marker = |at: usize| match data.get(at..) {
            Some([0xff, 0xff, ..]) => Some(0xff),
            Some([0xff, marker, ..]) => Some(*marker),
            _ => None,
        };
        while let Some(marker) = marker(at) {
            match marker {
                0xff => at += 1,
                0x01 | 0xd0..=0xd8 => at += 2,
                0xd9 => {
                    header.end = Some(at);
                    break;
                }
                _ => {
                    let Some(length) =
                        data.get(at + 2..at + 4).map(|two| usize::from(u16::from_be_bytes([two[0], two[1]])))
                    else {
                        break;
                    };
                    let Some(segment) = data.get(at + 4..at + 2 + length.max(2)) else { break };
                    header.segment(marker, segment);
                    at += 2 + length.max(2);
                    if marker == 0xda {
                        at += scan_length(&data[at..]);
                    }
                }
            }
        }
        if header.components == 0 { Err(Refusal::Damaged.into()) } else { Ok(header) }
    }

    fn segment(&mut self, marker: u8, segment: &[u8]) {
        match (marker, segment) {
            (0xc0..=0xc3 | 0xc5..=0xc7 | 0xc9..=0xcb | 0xcd..=0xcf, [bits, h1, h2, w1, w2, components, each @ ..]) => {
                for (sent, component) in self.sent.iter_mut().zip(each.chunks_exact(3)) {
                    *sent = (component[0], 0);
                }
                self.bits = *bits;
                self.height = u16::from_be_bytes([*h1, *h2]);
                self.width = u16::from_be_bytes([*w1, *w2]);
                self.components = *components;
                self.sequential_or_progressive = matches!(marker, 0xc0..=0xc2);
            }
            (0xda, [count, rest @ ..]) => {
                let (components, bands) = rest.split_at_checked(2 * usize::from(*count)).unwrap_or((rest, &[]));
                let [first, last, bits] = bands else { return };
                // bits that are still to come are counted in the lower half
                if *first <= *last && *last < 64 && bits & 0x0f == 0 {
                    let band = (u64::MAX >> (63 - last)) & (u64::MAX << first);
                    for (own, sent) in &mut self.sent {
                        if components.chunks(2).any(|component| component[0] == *own) {
                            *sent |= band;
                        }
                    }
                }
            }
            (0xe0, [b'J', b'F', b'I', b'F', 0, _, _, unit, x1, x2, y1, y2, ..]) => {
                let (x, y) = (u16::from_be_bytes([*x1, *x2]), u16::from_be_bytes([*y1, *y2]));
                let inch = match unit {
                    1 => Some(1.0),
                    2 => Some(2.54),
                    _ => None,
                };
                self.jfif = inch.map(|inch| (f64::from(x) * inch, f64::from(y) * inch));
            }
            (0xe1, segment) => {
                if let Some(data) = segment.strip_prefix(b"Exif\0\0") {
                    self.exif = exif::read(data);
                }
            }
            _ => {}
        }
    }

    /// Whether every coefficient of every component was sent.
    fn is_complete(&self) -> bool {
        self.sent.iter().take(usize::from(self.components)).all(|(_, sent)| *sent == u64::MAX)
    }

    fn dpi(&self) -> Option<(f64, f64)> {
        self.jfif.or(self.exif.dpi)
    }
}

/// Bytes of compressed pixels until the next marker that is no restart.
fn scan_length(data: &[u8]) -> usize {
    let mut at = 0;
    while let Some(next) = data[at..].iter().position(|byte| *byte == 0xff) {
        at += next;
        match data.get(at + 1) {
            Some(0 | 0xd0..=0xd7) => at += 2,
            Some(0xff) => at += 1,
            Some(_) => return at,
            None => break,
        }
    }
    data.len()
}
