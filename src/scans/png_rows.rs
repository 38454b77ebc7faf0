//! PNG, row by row.

use std::io::{BufRead, Seek};

use png::{BitDepth, ColorType, DecodingError, Transformations, Unit};

use crate::calc::imaging::transfer::Transfer;

use super::grey_rows::{GreyRows, Samples};
use super::{Picture, Refusal, Refused, checked_size, exif, resolution};

/// What chunks beside the pixels may need.
const SIDE_MEMORY: usize = 16 << 20;

pub fn read<R: BufRead + Seek>(source: R, transfer: Transfer) -> Result<Picture, Refused> {
    let mut decoder = png::Decoder::new_with_limits(source, png::Limits { bytes: SIDE_MEMORY });
    decoder.set_ignore_text_chunk(true);
    decoder.set_ignore_iccp_chunk(true);
    decoder.set_transformations(Transformations::EXPAND);
    let (width, height, palette, few) = {
        let header = decoder.read_header_info().map_err(refusal)?;
        let few = !matches!(header.bit_depth, BitDepth::Eight | BitDepth::Sixteen);
        (header.width, header.height, header.color_type == ColorType::Indexed, few)
    };
    checked_size(width, height)?;
    let at = |why| Refused { why, size: Some((width, height)) };
    if few {
        return Err(at(Refusal::NoGreyLevels));
    }
    let mut reader = decoder.read_info().map_err(refusal)?;
    let (colour, depth) = reader.output_color_type();
    let info = reader.info();
    let samples = Samples {
        each: colour.samples(),
        coloured: matches!(colour, ColorType::Rgb | ColorType::Rgba),
        sixteen: depth == BitDepth::Sixteen,
    };
    let mut warnings = Vec::new();
    if info.animation_control().is_some() {
        warnings.push("The file holds several pictures. Only the first is read.");
    }
    if matches!(colour, ColorType::GrayscaleAlpha | ColorType::Rgba) {
        warnings.push("The picture has a layer of transparency. It is left out.");
    }
    if palette {
        warnings.push("The picture has a table of colours. It may have fewer greys than a scan.");
    }
    let said = info.exif_metadata.as_deref().map(exif::read).unwrap_or_default();
    let orientation = said.orientation.unwrap_or(1);
    let per_inch = match info.pixel_dims {
        Some(size) if size.unit == Unit::Meter => Some((f64::from(size.xppu) * 0.0254, f64::from(size.yppu) * 0.0254)),
        Some(_) => None,
        None => said.dpi,
    };
    let dpi = per_inch.map_or(Ok(None), |(x, y)| resolution::dpi(x, y)).unwrap_or_else(|differs| {
        warnings.push(differs);
        None
    });
    let interlaced = info.interlaced;
    let mut rows = GreyRows::new(width, height, samples, orientation, transfer);
    let mut take = |y: usize, row: &[u8]| {
        if samples.sixteen {
            rows.take_16(0, y, row.chunks_exact(2).map(|two| u16::from_be_bytes([two[0], two[1]])));
        } else {
            rows.take_8(0, y, row);
        }
    };
    if interlaced {
        let size = reader.output_buffer_size().ok_or_else(|| at(Refusal::TooLarge))?;
        let mut whole = vec![0; size];
        let frame = reader.next_frame(&mut whole).map_err(refusal)?;
        for (y, row) in whole[..frame.buffer_size()].chunks_exact(frame.line_size).enumerate() {
            take(y, row);
        }
    } else {
        for y in 0..height as usize {
            let row = reader.next_row().map_err(refusal)?.ok_or_else(|| at(Refusal::Damaged))?;
            take(y, row.data());
        }
    }
    // a file that was cut off after its last row would be whole otherwise, and its sum unchecked
    reader.finish().map_err(refusal)?;
    let raster = rows.finished().ok_or_else(|| at(Refusal::Damaged))?;
    Ok(Picture { raster, dpi, warnings })
}

fn refusal(error: DecodingError) -> Refused {
    match error {
        DecodingError::LimitsExceeded => Refusal::TooLarge,
        _ => Refusal::Damaged,
    }
    .into()
}
