//! The density of unexposed paper.

use crate::calc::imaging::grid::{median, quantile};
use crate::calc::imaging::transfer::density;

use super::straight::Straight;

/// The rim that the holder shades, in mm inside the edge.
pub(super) const RIM_MM: [f64; 2] = [0.8, 1.7];
/// A rim darker than the lightest part by more than this density is fogged, or there is none.
const AS_LIGHT: f64 = 0.035;
/// A sheet whose lightest part is darker than this shows no base at all.
const NOTHING_LIGHT: f64 = 0.6;
/// Reflectance of paper of which nothing light is seen and nothing said (common practice, no source).
const ASSUMED: f64 = 0.85;

/// Where the base was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BaseFrom {
    /// The sheet's own rim.
    Border,
    /// The lightest part of the sheet, its rim being darker.
    LightestPart,
    /// Given by whoever asked.
    Given,
    /// Assumed, nothing light being there.
    Assumed,
}

impl BaseFrom {
    /// The word that scripts see.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Border => "border",
            Self::LightestPart => "lightest part",
            Self::Given => "given",
            Self::Assumed => "assumed",
        }
    }
}

/// The density of unexposed paper, absolute, and where it was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Base {
    /// `-log10 R`.
    pub density: f64,
    /// Where it was read.
    pub from: BaseFrom,
}

/// Reads the base of a straightened sheet: its rim, if that is as light as the lightest part; else the lightest part;
/// else what was `given`, or 0.85.
pub fn base(sheet: &Straight, given: Option<f64>) -> Base {
    let mut rim = rim(sheet);
    let rim = f64::from(density(median(&mut rim)));
    let inset = sheet.px(RIM_MM[0], 1);
    let grid = &sheet.grid;
    let rows = inset..grid.height.saturating_sub(inset);
    let mut light: Vec<f32> = rows
        .flat_map(|y| grid.row(y)[inset.min(grid.width / 2)..grid.width - inset.min(grid.width / 2)].iter().copied())
        .collect();
    // the middle of the lightest hundredth
    let lightest = f64::from(density(quantile(&mut light, 0.995)));
    if lightest > NOTHING_LIGHT {
        let from = if given.is_some() { BaseFrom::Given } else { BaseFrom::Assumed };
        Base { density: -given.unwrap_or(ASSUMED).log10(), from }
    } else if rim - lightest <= AS_LIGHT {
        Base { density: rim, from: BaseFrom::Border }
    } else {
        Base { density: lightest, from: BaseFrom::LightestPart }
    }
}

/// The reflectances of the rim.
fn rim(sheet: &Straight) -> Vec<f32> {
    let (outer, inner) = (sheet.px(RIM_MM[0], 1), sheet.px(RIM_MM[1], 2));
    let (width, height) = (sheet.grid.width, sheet.grid.height);
    let mut rim = Vec::new();
    for y in outer..height.saturating_sub(outer) {
        for x in outer..width.saturating_sub(outer) {
            let depth = x.min(y).min(width - 1 - x).min(height - 1 - y);
            if depth <= inner {
                rim.push(sheet.grid.at(x, y));
            }
        }
    }
    rim
}
