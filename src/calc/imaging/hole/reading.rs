//! Reading a hole: area, roundness, direction and edge, with the uncertainty of its diameter.

use std::f64::consts::PI;

use crate::calc::imaging::geometry::{Point, area, distance, hull};
use crate::calc::imaging::grid::{Grid, Raster};
use crate::calc::imaging::scan::scan_diameter_mm;
use crate::calc::imaging::surface::Surface;
use crate::calc::imaging::transfer::Transfer;

use super::coverage::{Coverage, coverage};
use super::edge::{Contour, contour, smoothed};
use super::finding::{Candidate, SMALLEST_MM, candidates};
use super::uncertainty::{Seen, Uncertainty};

/// Longer than four times its width is a hair or a scratch.
const LEAST_RATIO: f64 = 0.25;
/// Noise above this share of the contrast is smoothed before the edge is followed.
const NOISY: f64 = 0.03;

/// One hole.
#[derive(Clone, Debug)]
pub struct HoleReading {
    /// Diameter of the disc with the same area, in mm.
    pub d_area_mm: f64,
    /// Its uncertainty, part by part.
    pub uncertainty: Uncertainty,
    /// Shorter over longer axis of the ellipse with the same second moments.
    pub axis_ratio: f64,
    /// Direction of the longer axis in degrees from +x towards +y, above -90 to 90.
    pub angle_deg: f64,
    /// `4 pi A / P^2`: 1 for a circle.
    pub circularity: f64,
    /// Middle of the area, in pixels of the picture.
    pub centroid_px: Point,
    /// How far the edge is from its ellipse, root mean square, in per cent of the radius.
    pub edge_rms_pct: f64,
    /// The deepest burr, inward of the ellipse, in per cent of the radius.
    pub edge_max_in_pct: f64,
    /// The deepest nick, outward of the ellipse, in per cent of the radius.
    pub edge_max_out_pct: f64,
    /// The edge as it was found, in pixels of the picture.
    pub edge: Contour,
    /// Blur of the edge in pixels, the pixel itself included.
    pub blur_px: f64,
    /// Levels of the plate and of the hole beside the edge, as shares of full scale.
    pub levels: [f64; 2],
}

/// What a scan of a plate shows.
#[derive(Clone, Debug)]
pub struct Found {
    /// Holes that lie whole in the picture, from left to right.
    pub holes: Vec<HoleReading>,
    /// Whether the picture's edge cuts something.
    pub cut: bool,
    /// What was left out because it is long and thin.
    pub hairs: usize,
}

/// Finds and measures the holes of a scan. `dpi` is the resolution as used. `codes_known` tells that somebody has said
/// how codes stand for light; otherwise the difference that it can make is part of the uncertainty.
pub fn read(raster: &Raster, dpi: f64, codes_known: bool) -> Found {
    let pixel_mm = 25.4 / dpi;
    if raster.width() < 12 || raster.height() < 12 {
        return Found { holes: Vec::new(), cut: false, hairs: 0 };
    }
    let found = candidates(raster, pixel_mm);
    let (mut holes, mut hairs) = (Vec::new(), 0);
    for candidate in &found.whole {
        match reading(raster, &found.plate, candidate, dpi, codes_known) {
            Some(hole) if hole.axis_ratio < LEAST_RATIO || !hole.is_compact() => hairs += 1,
            Some(hole) if hole.d_area_mm >= SMALLEST_MM => holes.push(hole),
            _ => {}
        }
    }
    holes.sort_by(|a, b| a.centroid_px[0].total_cmp(&b.centroid_px[0]));
    Found { holes, cut: found.cut, hairs }
}

impl HoleReading {
    /// Whether it fills at least half of its own outline stretched tight.
    fn is_compact(&self) -> bool {
        let outline = hull(self.edge.pieces.iter().flatten().copied().collect());
        let radius = self.edge_radius_px();
        PI * radius * radius > 0.5 * area(&outline)
    }

    fn edge_radius_px(&self) -> f64 {
        (self.circularity.max(0.0).sqrt() * self.edge.length_px) / (2.0 * PI)
    }
}

fn reading(
    raster: &Raster,
    plate: &Surface,
    candidate: &Candidate,
    dpi: f64,
    codes_known: bool,
) -> Option<HoleReading> {
    let [left, top, right, bottom] = candidate.bounds;
    let margin = 12.max((right - left).max(bottom - top) / 3);
    let (x0, y0) = (left.saturating_sub(margin), top.saturating_sub(margin));
    let window = raster.window(x0, y0, right + margin + 1 - x0, bottom + margin + 1 - y0);
    let middle = (((left + right) / 2) as f64, ((top + bottom) / 2) as f64);
    let start = Surface::level(plate.at(middle.0, middle.1));
    let seen = coverage(&window, &start, candidate.contrast)?;
    let shape = Moments::of(&seen.shares)?;
    let d_area_mm = scan_diameter_mm(shape.area, dpi);
    let pixel_mm = 25.4 / dpi;
    let mut uncertainty = Uncertainty::of(Seen {
        diameter_mm: d_area_mm,
        pixel_mm,
        blur_px: seen.blur_px,
        noise: seen.noise,
        band: seen.band,
    });
    if !codes_known {
        // the truth lies anywhere between the code taken as light and the code taken as sRGB
        let other = scan_diameter_mm(area_as_srgb(&window, &seen), dpi);
        uncertainty.codes_mm = (other - d_area_mm).abs() / 3f64.sqrt();
    }
    let followed = if seen.noise > NOISY { smoothed(&seen.shares, 1.0) } else { seen.shares.clone() };
    let edge = contour(&followed)?;
    let ellipse = shape.ellipse(seen.blur_px);
    let rough = roughness(&edge, &shape, &ellipse);
    let moved = |point: Point| [point[0] + x0 as f64, point[1] + y0 as f64];
    let centre = shape.centroid;
    Some(HoleReading {
        d_area_mm,
        uncertainty,
        axis_ratio: ellipse.minor / ellipse.major,
        angle_deg: ellipse.angle_deg(),
        circularity: 4.0 * PI * shape.area / (edge.length_px * edge.length_px),
        centroid_px: moved(centre),
        edge_rms_pct: rough.rms,
        edge_max_in_pct: rough.inward,
        edge_max_out_pct: rough.outward,
        edge: Contour { pieces: edge.pieces.iter().map(|piece| piece.map(moved)).collect(), length_px: edge.length_px },
        blur_px: seen.blur_px,
        levels: seen.levels.map(|level| level.at(centre[0], centre[1])),
    })
}

/// The area when codes stand for light as in sRGB.
fn area_as_srgb(window: &Grid, seen: &Coverage) -> f64 {
    let light = |value: f64| Transfer::Srgb.reflectance(value.clamp(0.0, 1.0));
    let [plate, hole] = seen.levels;
    let mut sum = 0.0;
    for y in 0..window.height {
        for x in 0..window.width {
            let share = seen.shares.at(x, y);
            sum += if share == 0.0 || share == 1.0 {
                f64::from(share)
            } else {
                let low = light(plate.at(x as f64, y as f64));
                let high = light(hole.at(x as f64, y as f64));
                (light(f64::from(window.at(x, y))) - low) / (high - low)
            };
        }
    }
    sum.max(0.0)
}

/// Area, middle and second central moments of shares.
struct Moments {
    area: f64,
    centroid: Point,
    second: [f64; 3],
}

/// The ellipse with the same second moments; half axes in pixels.
struct Ellipse {
    major: f64,
    minor: f64,
    angle: f64,
}

impl Moments {
    fn of(shares: &Grid) -> Option<Self> {
        let mut sums = [0.0; 6];
        for y in 0..shares.height {
            for (x, share) in shares.row(y).iter().enumerate() {
                let (share, x, y) = (f64::from(*share), x as f64, y as f64);
                for (sum, by) in sums.iter_mut().zip([1.0, x, y, x * x, x * y, y * y]) {
                    *sum += share * by;
                }
            }
        }
        let area = sums[0];
        (area > 1.0).then(|| {
            let (x, y) = (sums[1] / area, sums[2] / area);
            Self {
                area,
                centroid: [x, y],
                second: [sums[3] / area - x * x, sums[4] / area - x * y, sums[5] / area - y * y],
            }
        })
    }

    /// The blur has widened both axes alike and is taken off.
    fn ellipse(&self, blur_px: f64) -> Ellipse {
        let [xx, xy, yy] = self.second;
        let (middle, half) = ((xx + yy) / 2.0, ((xx - yy) / 2.0).hypot(xy));
        let axis = |moment: f64| 2.0 * (moment - blur_px * blur_px).max(0.05 * moment).max(1e-9).sqrt();
        Ellipse { major: axis(middle + half), minor: axis(middle - half), angle: 0.5 * (2.0 * xy).atan2(xx - yy) }
    }
}

impl Ellipse {
    fn angle_deg(&self) -> f64 {
        let degrees = self.angle.to_degrees();
        if degrees <= -90.0 { degrees + 180.0 } else { degrees }
    }

    /// Distance from the middle to the ellipse in a direction.
    fn radius(&self, direction: f64) -> f64 {
        let turned = direction - self.angle;
        self.major * self.minor / (self.minor * turned.cos()).hypot(self.major * turned.sin())
    }
}

struct Rough {
    rms: f64,
    inward: f64,
    outward: f64,
}

fn roughness(edge: &Contour, shape: &Moments, ellipse: &Ellipse) -> Rough {
    let (mut sum, mut total, mut inward, mut outward) = (0.0, 0.0, 0.0f64, 0.0f64);
    for [a, b] in &edge.pieces {
        let middle = [(a[0] + b[0]) / 2.0 - shape.centroid[0], (a[1] + b[1]) / 2.0 - shape.centroid[1]];
        let expected = ellipse.radius(middle[1].atan2(middle[0]));
        let off = 100.0 * (middle[0].hypot(middle[1]) - expected) / expected;
        let length = distance(*a, *b);
        sum += length * off * off;
        total += length;
        inward = inward.max(-off);
        outward = outward.max(off);
    }
    Rough { rms: (sum / total.max(1e-9)).sqrt(), inward, outward }
}
