//! Grey pictures of what was found.

use std::io;

use crate::calc::imaging::grid::{Grid, Raster};
use crate::calc::imaging::hole::Contour;

/// The longer side of an enlarged hole, in pixels.
const ENLARGED: f64 = 800.0;

/// A grid of tones, 0 black to 1 white, as an 8-bit grey PNG; codes stand for tones as they are.
///
/// # Errors
/// When the encoder fails, which a grid of at least one pixel gives no cause for.
pub fn grey_png(tones: &Grid) -> io::Result<Vec<u8>> {
    let size = |pixels: usize| u32::try_from(pixels).unwrap_or(u32::MAX);
    let mut file = Vec::new();
    let mut encoder = png::Encoder::new(&mut file, size(tones.width), size(tones.height));
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header().map_err(io::Error::other)?;
    let codes: Vec<u8> = tones.values.iter().map(|tone| (tone.clamp(0.0, 1.0) * 255.0).round() as u8).collect();
    writer.write_image_data(&codes).map_err(io::Error::other)?;
    writer.finish().map_err(io::Error::other)?;
    Ok(file)
}

/// The neighbourhood of an edge, enlarged without smoothing, with the edge drawn where it was found: white on dark and
/// black on light.
pub fn enlarged(raster: &Raster, edge: &Contour) -> Grid {
    let end = |axis: usize, start: f64, further: fn(f64, f64) -> f64| {
        edge.pieces.iter().flatten().map(|point| point[axis]).fold(start, further)
    };
    let low = [0, 1].map(|axis| end(axis, f64::MAX, f64::min));
    let high = [0, 1].map(|axis| end(axis, f64::MIN, f64::max));
    let margin = 4.0 + 0.2 * (high[0] - low[0]).max(high[1] - low[1]);
    let from = low.map(|at| (at - margin).max(0.0) as usize);
    let sides = [0, 1].map(|axis| (high[axis] + margin) as usize + 1 - from[axis]);
    let window = raster.window(from[0], from[1], sides[0], sides[1]);
    let times = (ENLARGED / window.width.max(window.height) as f64).floor().clamp(1.0, 24.0) as usize;
    let mut out = Grid::filled(window.width * times, window.height * times, 0.0);
    for y in 0..out.height {
        for x in 0..out.width {
            out.values[y * out.width + x] = window.at(x / times, y / times);
        }
    }
    let place = |point: [f64; 2]| [0, 1].map(|axis| (point[axis] - from[axis] as f64 + 0.5) * times as f64 - 0.5);
    for [a, b] in &edge.pieces {
        let (a, b) = (place(*a), place(*b));
        let count = ((a[0] - b[0]).hypot(a[1] - b[1]) * 2.0).ceil().max(1.0) as usize;
        for step in 0..=count {
            let along = step as f64 / count as f64;
            let [x, y] = [0, 1].map(|axis| (a[axis] + along * (b[axis] - a[axis])).round());
            if x >= 0.0 && y >= 0.0 && (x as usize) < out.width && (y as usize) < out.height {
                let under = window.at(x as usize / times, y as usize / times);
                out.values[y as usize * out.width + x as usize] = if under > 0.5 { 0.0 } else { 1.0 };
            }
        }
    }
    out
}
