//! Reading a paper negative: base, densities, how much is clear or black, and by how much it was exposed wrongly.

use crate::calc::imaging::curve::{AT_S, AT_T, PaperCurve};
use crate::calc::imaging::grid::{Grid, Raster, median, quantile};
use crate::calc::imaging::positive::{eight_by_eight, positive};
use crate::calc::imaging::transfer::density;

use super::area::{PictureArea, picture_area};
use super::base::{Base, base};
use super::exposure::{ExposureError, Known, exposure_error};
use super::faults::{Fault, faults};
use super::finding::{Outline, sheets};
use super::straight::straight;

/// More than this share of the picture at one end is all white or all black.
const NEARLY_ALL: f64 = 0.95;
/// Within so many stops an exposure is about right.
const ABOUT_RIGHT: f64 = 0.5;

/// The verdict that a reading offers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SheetVerdict {
    /// Within half a stop.
    AboutRight,
    /// Too little light.
    TooPale,
    /// Too much light.
    TooDark,
    /// Nothing to see, for want of light.
    AllWhite,
    /// Nothing to see, for too much light.
    AllBlack,
}

impl SheetVerdict {
    /// The word that scripts see.
    pub const fn word(self) -> &'static str {
        match self {
            Self::AboutRight => "about right",
            Self::TooPale => "too pale",
            Self::TooDark => "too dark",
            Self::AllWhite => "all white",
            Self::AllBlack => "all black",
        }
    }
}

/// One negative.
#[derive(Clone, Debug)]
pub struct SheetReading {
    /// Where it lies, in pixels of the picture.
    pub outline: Outline,
    /// Width and height in mm, with a resolution.
    pub size_mm: Option<[f64; 2]>,
    /// The part that is picture.
    pub area: PictureArea,
    /// Density of the unexposed paper.
    pub base: Base,
    /// Net density that 99.5 % of the picture stay below.
    pub max_density: f64,
    /// Middle net density of the picture.
    pub median_density: f64,
    /// Share of the picture below 0.04.
    pub share_at_base: f64,
    /// Share of the picture above 0.9 of the paper's greatest density.
    pub share_at_max: f64,
    /// Exposure against the right one.
    pub exposure: ExposureError,
    /// The verdict that this offers.
    pub verdict: SheetVerdict,
    /// Light where none should have been.
    pub faults: Vec<Fault>,
    /// The print, as small fields.
    pub positive_grid: [[f64; 8]; 8],
    /// The print itself, 0 to 1.
    pub positive: Grid,
}

/// What a scan of negatives shows.
#[derive(Clone, Debug)]
pub struct SheetFound {
    /// Whole sheets from left to right.
    pub sheets: Vec<SheetReading>,
    /// Whether the picture's edge cuts something large.
    pub cut: bool,
}

/// What a reading is told.
#[derive(Clone, Copy, Debug)]
pub struct Told {
    /// Pixels to the inch.
    pub dpi: Option<f64>,
    /// The paper's curve.
    pub curve: PaperCurve,
    /// How well it is known.
    pub known: Known,
    /// Share of the surrounding light that the scanner adds.
    pub flare: f64,
    /// Reflectance of unexposed paper, for a sheet on which nothing is light.
    pub base_reflectance: Option<f64>,
}

/// Finds and reads the negatives of a scan.
pub fn read(raster: &Raster, told: &Told) -> SheetFound {
    let found = sheets(raster, told.dpi, told.flare);
    let readings = found.whole.iter().map(|outline| {
        let sheet = straight(&found, outline, told.dpi);
        let base = base(&sheet, told.base_reflectance);
        let level = base.density as f32;
        let net = sheet.grid.map(|reflectance| density(reflectance) - level);
        let faults = faults(&sheet, &net);
        let area = picture_area(&sheet, &net, faults.contains(&Fault::FoggedBorder));
        let mut numbers = Vec::with_capacity(net.values.len());
        for y in area.from[1]..area.to[1] {
            let row = net.row(y);
            numbers.extend((area.from[0]..area.to[0]).filter(|x| area.holds(*x, y)).map(|x| row[x]));
        }
        let middle = f64::from(median(&mut numbers));
        let most = f64::from(quantile(&mut numbers, 0.995));
        let share = |belongs: &dyn Fn(f64) -> bool| {
            numbers.iter().filter(|value| belongs(f64::from(**value))).count() as f64 / numbers.len().max(1) as f64
        };
        let share_at_base = share(&|value| value < AT_S);
        let share_at_max = share(&|value| value > AT_T * told.curve.d_max());
        let exposure = exposure_error(middle, &told.curve, told.known);
        let positive = positive(&net, area.frame(&net), &told.curve);
        SheetReading {
            outline: *outline,
            size_mm: told.dpi.map(|dpi| outline.size().map(|px| px * 25.4 / dpi)),
            area,
            base,
            max_density: most,
            median_density: middle,
            share_at_base,
            share_at_max,
            exposure,
            verdict: verdict(exposure, share_at_base, share_at_max),
            faults,
            positive_grid: eight_by_eight(&positive),
            positive,
        }
    });
    SheetFound { sheets: readings.collect(), cut: found.cut }
}

fn verdict(exposure: ExposureError, at_base: f64, at_max: f64) -> SheetVerdict {
    match exposure {
        _ if at_base > NEARLY_ALL => SheetVerdict::AllWhite,
        _ if at_max > NEARLY_ALL => SheetVerdict::AllBlack,
        ExposureError::AtMost(_) => SheetVerdict::TooPale,
        ExposureError::AtLeast(_) => SheetVerdict::TooDark,
        ExposureError::Value { stops, .. } if stops < -ABOUT_RIGHT => SheetVerdict::TooPale,
        ExposureError::Value { stops, .. } if stops > ABOUT_RIGHT => SheetVerdict::TooDark,
        ExposureError::Value { .. } => SheetVerdict::AboutRight,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bound_is_pale_or_dark_and_nearly_everything_at_one_end_is_all() {
        let value = |stops| ExposureError::Value { stops, uncertainty: 0.1 };
        assert_eq!(verdict(value(0.5), 0.1, 0.1), SheetVerdict::AboutRight);
        assert_eq!(verdict(value(-0.51), 0.1, 0.1), SheetVerdict::TooPale);
        assert_eq!(verdict(value(0.51), 0.1, 0.1), SheetVerdict::TooDark);
        assert_eq!(verdict(ExposureError::AtMost(-1.8), 0.7, 0.0), SheetVerdict::TooPale);
        assert_eq!(verdict(ExposureError::AtMost(-1.8), 0.96, 0.0), SheetVerdict::AllWhite);
        assert_eq!(verdict(ExposureError::AtLeast(1.8), 0.0, 0.99), SheetVerdict::AllBlack);
    }
}
