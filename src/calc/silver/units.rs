//! Units in which silver and coatings are given.

use crate::calc::quantity::GramsPerSquareMetre;
use crate::calc::working::{Working, plain, scaled};

/// Grams in a troy ounce, exact.
pub const GRAMS_PER_TROY_OUNCE: f64 = 31.103_476_8;
/// Square metres in a square foot, exact.
const M2_PER_FT2: f64 = 0.092_903_04;

/// Grams as troy ounces.
pub fn troy_ounces(grams: f64) -> f64 {
    grams / GRAMS_PER_TROY_OUNCE
}

/// Troy ounces as grams.
pub fn grams(troy_ounces: f64) -> f64 {
    troy_ounces * GRAMS_PER_TROY_OUNCE
}

/// Coating weight from milligrams per square foot; up to 4,000.
pub fn coating_weight_from_mg_per_ft2(mg_per_ft2: f64) -> GramsPerSquareMetre {
    GramsPerSquareMetre::computed(mg_per_ft2 / 1000.0 / M2_PER_FT2)
}

/// Coating weight from troy ounces per thousand square feet; up to 140.
pub fn coating_weight_from_troy_oz_per_1000_ft2(troy_oz: f64) -> GramsPerSquareMetre {
    GramsPerSquareMetre::computed(grams(troy_oz) / 1000.0 / M2_PER_FT2)
}

/// [`troy_ounces`] with its working.
pub fn troy_ounces_working(silver_g: f64) -> Working {
    let troy = scaled(troy_ounces(silver_g), 4);
    let formula = format!("{} g / 31.1034768 g per troy ounce = {troy} troy oz", plain(silver_g));
    Working::of("troy ounces", format!("{troy} troy oz"), formula, EXACT)
}

/// [`grams`] with its working.
pub fn grams_working(troy_oz: f64) -> Working {
    let silver = scaled(grams(troy_oz), 4);
    let formula = format!("{} troy oz × 31.1034768 g = {silver} g", plain(troy_oz));
    Working::of("grams", format!("{silver} g"), formula, EXACT)
}

/// [`coating_weight_from_mg_per_ft2`] with its working.
pub fn coating_weight_from_mg_per_ft2_working(mg_per_ft2: f64) -> Working {
    let coating = scaled(coating_weight_from_mg_per_ft2(mg_per_ft2).as_g_m2(), 4);
    let formula = format!("{} mg/ft² / 1000 / 0.09290304 m² per ft² = {coating} g/m²", plain(mg_per_ft2));
    Working::of(COATING, format!("{coating} g/m²"), formula, EXACT)
}

/// [`coating_weight_from_troy_oz_per_1000_ft2`] with its working.
pub fn coating_weight_from_troy_oz_per_1000_ft2_working(troy_oz: f64) -> Working {
    let coating = scaled(coating_weight_from_troy_oz_per_1000_ft2(troy_oz).as_g_m2(), 4);
    let formula = format!("{} troy oz × 31.1034768 g / (1000 × 0.09290304 m²) = {coating} g/m²", plain(troy_oz));
    Working::of(COATING, format!("{coating} g/m²"), formula, EXACT)
}

const COATING: &str = "coating weight";
const EXACT: &str = "definitions of the units, exact: troy ounce 31.1034768 g, foot 0.3048 m";
