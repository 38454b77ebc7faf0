//! Light where none should have been: a leak through the border, a border fogged all along.

use crate::calc::imaging::grid::{Grid, median};

use super::base::RIM_MM;
use super::straight::Straight;

/// What is wrong with a sheet, besides its exposure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Light came through at one place.
    Leak,
    /// The border has seen light all along.
    FoggedBorder,
}

impl Fault {
    /// The word that scripts see.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Leak => "leak",
            Self::FoggedBorder => "fogged border",
        }
    }
}

/// A rim darker than this has seen light.
const DARK: f32 = 0.15;
/// A dark place of the rim this long is a leak, shorter ones are hairs, in mm.
const LEAST_MM: f64 = 1.2;

/// Looks along the rim, side by side.
pub fn faults(sheet: &Straight, net: &Grid) -> Vec<Fault> {
    let sides: Vec<Vec<f32>> = (0..4).map(|side| rim(sheet, net, side, RIM_MM)).collect();
    let dark =
        |numbers: &[f32]| numbers.iter().filter(|value| **value > DARK).count() as f64 / numbers.len().max(1) as f64;
    let fogged = (0..4).filter(|side| {
        let mut outer = sides[*side].clone();
        let mut inner = rim(sheet, net, *side, [2.2, 3.0]);
        // fog is deepest at the very edge; a picture without a border is not
        dark(&outer) > 0.6 && median(&mut outer) > median(&mut inner) + 0.1
    });
    let mut found = Vec::new();
    if fogged.count() >= 2 {
        found.push(Fault::FoggedBorder);
    } else if sides.iter().enumerate().any(|(side, numbers)| dark(numbers) < 0.5 && leaks(sheet, net, side, numbers)) {
        found.push(Fault::Leak);
    }
    found
}

/// Median net density of the rim at each place along a side, corners left out.
fn rim(sheet: &Straight, net: &Grid, side: usize, depths_mm: [f64; 2]) -> Vec<f32> {
    let (outer, inner) = (sheet.px(depths_mm[0], 1), sheet.px(depths_mm[1], 2));
    let extent = if side.is_multiple_of(2) { net.height } else { net.width };
    let across = if side.is_multiple_of(2) { net.width } else { net.height };
    let corner = (sheet.px(3.0, 3)).min(extent / 4);
    let inner = inner.min(across / 2);
    (corner..extent - corner)
        .map(|along| {
            let mut column: Vec<f32> = (outer..=inner.max(outer))
                .map(|depth| match side {
                    0 => net.at(depth, along),
                    1 => net.at(along, depth),
                    2 => net.at(net.width - 1 - depth, along),
                    _ => net.at(along, net.height - 1 - depth),
                })
                .collect();
            median(&mut column)
        })
        .collect()
}

/// Whether a dark place on the rim is long enough and goes on inward.
fn leaks(sheet: &Straight, net: &Grid, side: usize, numbers: &[f32]) -> bool {
    let further = rim(sheet, net, side, [RIM_MM[1], 2.6]);
    let least = sheet.px(LEAST_MM, 3);
    let mut length = 0;
    numbers.iter().zip(&further).any(|(rim, inside)| {
        length = if *rim > DARK && *inside > DARK { length + 1 } else { 0 };
        length >= least
    })
}
