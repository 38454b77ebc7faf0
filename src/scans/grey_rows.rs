//! Takes rows as a decoder gives them and keeps them as grey codes, upright.

use crate::calc::imaging::grid::{Codes, Raster};
use crate::calc::imaging::transfer::{LUMINANCE, Transfer};

/// How the samples of a pixel stand in a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Samples {
    /// Samples of a pixel, alpha with them.
    pub each: usize,
    /// Whether the first three are red, green and blue; otherwise the first is grey.
    pub coloured: bool,
    /// Whether samples are 16 bit.
    pub sixteen: bool,
}

/// Grey rows of a picture.
pub struct GreyRows {
    stored: (usize, usize),
    orientation: u8,
    samples: Samples,
    /// What each code of the file stands for.
    light: Vec<f32>,
    codes: Codes,
    /// Steps from one stored pixel to the next, and where the row at hand begins.
    line: Vec<u16>,
}

/// Colour is kept as the square root of its luminance: even steps where the eye and the density need them.
const FULL: f32 = 65535.0;

impl GreyRows {
    /// Room for a picture as stored; `orientation` as in EXIF, 1 to 8.
    pub fn new(width: u32, height: u32, samples: Samples, orientation: u8, transfer: Transfer) -> Self {
        let pixels = width as usize * height as usize;
        let codes = if samples.coloured || samples.sixteen {
            Codes::Sixteen(vec![0; pixels])
        } else {
            Codes::Eight(vec![0; pixels])
        };
        Self {
            stored: (width as usize, height as usize),
            orientation,
            samples,
            light: transfer.table(if samples.sixteen { 65535 } else { 255 }),
            codes,
            line: Vec::new(),
        }
    }

    /// Where the stored pixel is shown, and the step to the one that is stored right of it.
    fn place(&self, x: usize, y: usize) -> (usize, isize) {
        let (width, height) = self.stored;
        let (right, down) = (width - 1 - x, height - 1 - y);
        let (across, step) = (if self.orientation < 5 { width } else { height }, 1);
        let (u, v, step) = match self.orientation {
            2 => (right, y, -step),
            3 => (right, down, -step),
            4 => (x, down, step),
            5 => (y, x, across as isize),
            6 => (down, x, across as isize),
            7 => (down, right, -(across as isize)),
            8 => (y, right, -(across as isize)),
            _ => (x, y, step),
        };
        (v * across + u, step)
    }

    /// Takes 8-bit samples of pixels that are stored from `x` on in row `y`.
    pub fn take_8(&mut self, x: usize, y: usize, row: &[u8]) {
        let each = self.samples.each;
        let (start, step) = self.place(x, y);
        match &mut self.codes {
            Codes::Eight(codes) => {
                if step == 1 && each == 1 {
                    codes[start..start + row.len()].copy_from_slice(row);
                } else {
                    spread(codes, start, step, row.chunks_exact(each).map(|pixel| pixel[0]));
                }
            }
            Codes::Sixteen(codes) => {
                let light = &self.light;
                if self.line.is_empty() {
                    self.line = light.iter().map(|light| root(*light)).collect();
                }
                let grey = &self.line;
                let luminance = |pixel: &[u8]| {
                    let [r, g, b] = [pixel[0], pixel[1], pixel[2]];
                    if r == g && g == b {
                        return grey[usize::from(g)];
                    }
                    root(
                        LUMINANCE[0] * light[usize::from(r)]
                            + LUMINANCE[1] * light[usize::from(g)]
                            + LUMINANCE[2] * light[usize::from(b)],
                    )
                };
                spread(codes, start, step, row.chunks_exact(each).map(luminance));
            }
        }
    }

    /// Takes 16-bit samples of pixels that are stored from `x` on in row `y`.
    pub fn take_16(&mut self, x: usize, y: usize, row: impl Iterator<Item = u16>) {
        let Samples { each, coloured, .. } = self.samples;
        let mut line = std::mem::take(&mut self.line);
        line.clear();
        line.extend(row);
        let (start, step) = self.place(x, y);
        let light = &self.light;
        if let Codes::Sixteen(codes) = &mut self.codes {
            if coloured {
                let luminance = |pixel: &[u16]| {
                    root(
                        LUMINANCE[0] * light[usize::from(pixel[0])]
                            + LUMINANCE[1] * light[usize::from(pixel[1])]
                            + LUMINANCE[2] * light[usize::from(pixel[2])],
                    )
                };
                spread(codes, start, step, line.chunks_exact(each).map(luminance));
            } else {
                spread(codes, start, step, line.chunks_exact(each).map(|pixel| pixel[0]));
            }
        }
        self.line = line;
    }

    /// The picture, upright.
    pub fn finished(self) -> Option<Raster> {
        let (width, height) = if self.orientation < 5 { self.stored } else { (self.stored.1, self.stored.0) };
        let table = if self.samples.coloured {
            (0..=u16::MAX).map(|code| (f32::from(code) / FULL).powi(2)).collect()
        } else {
            self.light
        };
        Raster::new(width, height, self.codes, table)
    }
}

fn root(light: f32) -> u16 {
    (light.sqrt() * FULL + 0.5) as u16
}

fn spread<C>(codes: &mut [C], start: usize, step: isize, row: impl Iterator<Item = C>) {
    if step == 1 {
        for (code, value) in codes[start..].iter_mut().zip(row) {
            *code = value;
        }
        return;
    }
    let mut place = start as isize;
    for value in row {
        codes[place as usize] = value;
        place += step;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const GREY: Samples = Samples { each: 1, coloured: false, sixteen: false };

    fn shown(orientation: u8) -> (usize, Vec<u8>) {
        let mut rows = GreyRows::new(3, 2, GREY, orientation, Transfer::Linear);
        rows.take_8(0, 0, &[1, 2, 3]);
        rows.take_8(0, 1, &[4, 5, 6]);
        let raster = rows.finished().unwrap();
        let codes = (0..raster.height()).flat_map(|y| (0..raster.width()).map(move |x| (x, y)));
        (raster.width(), codes.map(|(x, y)| (raster.at(x, y) * 255.0).round() as u8).collect())
    }

    #[test]
    fn every_orientation_is_turned_upright() {
        // EXIF 2.3, tag 274: which side of the stored picture the first row and the first column are
        assert_eq!(shown(1), (3, vec![1, 2, 3, 4, 5, 6]));
        assert_eq!(shown(2), (3, vec![3, 2, 1, 6, 5, 4]));
        assert_eq!(shown(3), (3, vec![6, 5, 4, 3, 2, 1]));
        assert_eq!(shown(4), (3, vec![4, 5, 6, 1, 2, 3]));
        assert_eq!(shown(5), (2, vec![1, 4, 2, 5, 3, 6]));
        assert_eq!(shown(6), (2, vec![4, 1, 5, 2, 6, 3]));
        assert_eq!(shown(7), (2, vec![6, 3, 5, 2, 4, 1]));
        assert_eq!(shown(8), (2, vec![3, 6, 2, 5, 1, 4]));
    }

    #[test]
    fn colour_becomes_luminance_after_linearising() {
        let samples = Samples { each: 4, coloured: true, sixteen: false };
        let mut rows = GreyRows::new(3, 1, samples, 1, Transfer::Srgb);
        rows.take_8(0, 0, &[255, 0, 0, 9, 0, 255, 0, 9, 188, 188, 188, 9]);
        let raster = rows.finished().unwrap();
        assert!((raster.at(0, 0) - 0.2126).abs() < 1e-4);
        assert!((raster.at(1, 0) - 0.7152).abs() < 1e-4);
        assert!((f64::from(raster.at(2, 0)) - Transfer::Srgb.reflectance(188.0 / 255.0)).abs() < 1e-4);
    }
}
