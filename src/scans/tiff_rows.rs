//! TIFF, strip by strip or tile by tile.

use std::io::{BufRead, Seek};

use tiff::decoder::{ChunkType, Decoder, DecodingResult, Limits};
use tiff::tags::Tag;
use tiff::{ColorType, TiffError};

use crate::calc::imaging::transfer::Transfer;

use super::grey_rows::{GreyRows, Samples};
use super::{Picture, Refusal, Refused, checked_size, resolution};

/// The largest strip that is unpacked at once.
const LARGEST_STRIP: usize = 768 << 20;
/// What one directory entry may hold.
const LARGEST_ENTRY: usize = 16 << 20;

pub fn read<R: BufRead + Seek>(source: R, transfer: Transfer) -> Result<Picture, Refused> {
    let mut limits = Limits::default();
    limits.decoding_buffer_size = LARGEST_STRIP;
    limits.intermediate_buffer_size = LARGEST_STRIP;
    limits.ifd_value_size = LARGEST_ENTRY;
    let mut decoder = Decoder::new(source).map_err(refusal)?.with_limits(limits);
    let (width, height) = decoder.dimensions().map_err(refusal)?;
    checked_size(width, height)?;
    let at = |why| Refused { why, size: Some((width, height)) };
    let number = |decoder: &mut Decoder<R>, tag| decoder.find_tag_unsigned::<u32>(tag).ok().flatten();
    let colour = decoder.colortype().map_err(|error| at(refusal(error).why))?;
    let (each, coloured, bits) = match colour {
        ColorType::Gray(bits) => (1, false, bits),
        ColorType::GrayA(bits) => (2, false, bits),
        ColorType::RGB(bits) => (3, true, bits),
        ColorType::RGBA(bits) => (4, true, bits),
        _ => return Err(at(Refusal::UnsupportedColour)),
    };
    if bits < 8 {
        return Err(at(Refusal::NoGreyLevels));
    }
    let formats = decoder.find_tag_unsigned_vec::<u16>(Tag::SampleFormat).ok().flatten().unwrap_or_default();
    if !(bits == 8 || bits == 16) || formats.iter().any(|format| *format != 1) {
        return Err(at(Refusal::UnsupportedColour));
    }
    if each > 1 && number(&mut decoder, Tag::PlanarConfiguration) == Some(2) {
        return Err(at(Refusal::UnsupportedFormat));
    }
    let mut warnings = Vec::new();
    if decoder.more_images() {
        warnings.push("The file holds several pictures. Only the first is read.");
    }
    if matches!(each, 2 | 4) {
        warnings.push("The picture has a layer of transparency. It is left out.");
    }
    let orientation = number(&mut decoder, Tag::Orientation).filter(|o| (1..=8).contains(o)).unwrap_or(1) as u8;
    let dpi = per_inch(&mut decoder).map_or(Ok(None), |(x, y)| resolution::dpi(x, y)).unwrap_or_else(|differs| {
        warnings.push(differs);
        None
    });
    check_uncompressed(&mut decoder, height, width as usize * each * usize::from(bits / 8)).map_err(at)?;
    let samples = Samples { each, coloured, sixteen: bits == 16 };
    let mut rows = GreyRows::new(width, height, samples, orientation, transfer);
    let (chunk_width, chunk_height) = decoder.chunk_dimensions();
    let across = width.div_ceil(chunk_width.max(1)).max(1);
    let chunks = match decoder.get_chunk_type() {
        ChunkType::Strip => decoder.strip_count(),
        ChunkType::Tile => decoder.tile_count(),
    }
    .map_err(refusal)?;
    for index in 0..chunks {
        let (x, y) = ((index % across * chunk_width) as usize, (index / across * chunk_height) as usize);
        let (data_width, data_height) = decoder.chunk_data_dimensions(index);
        if y + data_height as usize > height as usize || x + data_width as usize > width as usize {
            return Err(at(Refusal::Damaged));
        }
        let chunk = decoder.read_chunk(index).map_err(|error| at(refusal(error).why))?;
        let line = data_width as usize * each;
        match &chunk {
            DecodingResult::U8(data) if data.len() >= line * data_height as usize => {
                for (down, row) in data.chunks_exact(line).take(data_height as usize).enumerate() {
                    rows.take_8(x, y + down, row);
                }
            }
            DecodingResult::U16(data) if data.len() >= line * data_height as usize => {
                for (down, row) in data.chunks_exact(line).take(data_height as usize).enumerate() {
                    rows.take_16(x, y + down, row.iter().copied());
                }
            }
            _ => return Err(at(Refusal::Damaged)),
        }
    }
    let raster = rows.finished().ok_or_else(|| at(Refusal::Damaged))?;
    Ok(Picture { raster, dpi, warnings })
}

/// Unpacked strips must hold every row that they promise: a reader that takes the next bytes instead measures half a picture.
fn check_uncompressed<R: BufRead + Seek>(
    decoder: &mut Decoder<R>,
    height: u32,
    row_bytes: usize,
) -> Result<(), Refusal> {
    if decoder.find_tag_unsigned::<u32>(Tag::Compression).ok().flatten().unwrap_or(1) != 1
        || decoder.get_chunk_type() != ChunkType::Strip
    {
        return Ok(());
    }
    let counts = decoder.find_tag_unsigned_vec::<u64>(Tag::StripByteCounts).ok().flatten().ok_or(Refusal::Damaged)?;
    let (_, strip_height) = decoder.chunk_dimensions();
    for (strip, count) in (0u32..).zip(counts) {
        let rows = height.saturating_sub(strip.saturating_mul(strip_height)).min(strip_height);
        if count < rows as u64 * row_bytes as u64 {
            return Err(Refusal::Damaged);
        }
    }
    Ok(())
}

fn per_inch<R: BufRead + Seek>(decoder: &mut Decoder<R>) -> Option<(f64, f64)> {
    // without the tag the unit is the inch (TIFF 6.0)
    let unit = decoder.find_tag_unsigned::<u16>(Tag::ResolutionUnit).ok().flatten().unwrap_or(2);
    let inch = match unit {
        2 => 1.0,
        3 => 2.54,
        _ => return None,
    };
    let mut ratio = |tag| match decoder.find_tag(tag).ok().flatten()? {
        tiff::decoder::ifd::Value::Rational(over, under) => Some(f64::from(over) / f64::from(under)),
        _ => None,
    };
    Some((ratio(Tag::XResolution)? * inch, ratio(Tag::YResolution)? * inch))
}

fn refusal(error: TiffError) -> Refused {
    match error {
        TiffError::UnsupportedError(_) => Refusal::UnsupportedFormat,
        TiffError::LimitsExceeded => Refusal::TooLarge,
        _ => Refusal::Damaged,
    }
    .into()
}
