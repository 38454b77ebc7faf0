//! How well a hole's diameter is known from one scan.

use std::f64::consts::PI;

/// How well the half level is known, as a share of the contrast (assumed, no source).
pub const EDGE_LEVEL: f64 = 0.05;
/// Relative error of a scanner's resolution that nobody has checked with a ruler (assumed, no source).
pub const SCALE: f64 = 0.003;

/// What the diameter is uncertain by, part by part: standard deviations in mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Uncertainty {
    /// Noise of the pixels on the edge.
    pub pixels_mm: f64,
    /// The level at which the edge was taken.
    pub edge_level_mm: f64,
    /// The scanner's resolution.
    pub scale_mm: f64,
    /// How codes stand for light, where nobody has said.
    pub codes_mm: f64,
    /// Scatter of repeats; 0 for a single scan.
    pub repeats_mm: f64,
}

/// What [`Uncertainty::of`] needs to know of a hole.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seen {
    /// Diameter of the disc with the same area, in mm.
    pub diameter_mm: f64,
    /// Length of a pixel, in mm.
    pub pixel_mm: f64,
    /// Blur of the edge in pixels, the pixel itself included.
    pub blur_px: f64,
    /// Scatter of the plate as a share of the contrast.
    pub noise: f64,
    /// Pixels in the edge's band.
    pub band: usize,
}

impl Uncertainty {
    /// Parts of the uncertainty of a diameter taken from summed shares: pixels `p noise sqrt(n) / (pi r)`, n the
    /// pixels in the edge's band and r the radius in pixels; edge level `2 sqrt(2 pi) s u p`, s the blur; scale
    /// `d u`. Derived for this project and checked by simulation.
    pub fn of(seen: Seen) -> Self {
        let radius_px = seen.diameter_mm / 2.0 / seen.pixel_mm;
        Self {
            pixels_mm: seen.pixel_mm * seen.noise * (seen.band as f64).sqrt() / (PI * radius_px),
            edge_level_mm: 2.0 * (2.0 * PI).sqrt() * seen.blur_px * EDGE_LEVEL * seen.pixel_mm,
            scale_mm: SCALE * seen.diameter_mm,
            codes_mm: 0.0,
            repeats_mm: 0.0,
        }
    }

    /// All parts together, one standard deviation in mm.
    pub fn total_mm(&self) -> f64 {
        [self.pixels_mm, self.edge_level_mm, self.scale_mm, self.codes_mm, self.repeats_mm]
            .iter()
            .map(|part| part * part)
            .sum::<f64>()
            .sqrt()
    }

    /// The same when the diameter is the mean of several scans: `scatter_mm` is their standard deviation.
    #[must_use]
    pub fn with_repeats(self, scatter_mm: f64, scans: usize) -> Self {
        Self { repeats_mm: scatter_mm / (scans.max(1) as f64).sqrt(), ..self }
    }

    /// The same with the scanner's own relative error of scale, from a scanned ruler.
    #[must_use]
    pub fn with_scale(self, diameter_mm: f64, relative: f64) -> Self {
        Self { scale_mm: diameter_mm * relative, ..self }
    }
}
