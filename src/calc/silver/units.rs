//! Units in which silver and coatings are given.

use crate::calc::quantity::GramsPerSquareMetre;

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
