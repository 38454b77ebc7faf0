//! The light of the day, CIE daylight D55: sun and sky together, at a correlated colour temperature
//! of about 5500 K.
//!
//! CIE 15 (Colorimetry): the D series is `S(λ) = S0(λ) + M1 S1(λ) + M2 S2(λ)`, M1 and M2 from the
//! chromaticity, that from the temperature, linear between the tabled wavelengths. The standard's own
//! pages were not seen: the table and the formulas were compared with a general colour-science
//! library's copy, and the outcome with its copy of the published D55 (to 0.005 of 100).

/// The first tabled wavelength, nm.
pub const FROM_NM: f64 = 300.0;
/// The last one used, nm: beyond it no paper sees anything.
pub const TO_NM: f64 = 780.0;
/// The table's step, nm.
pub const STEP_NM: f64 = 10.0;

/// S0, S1, S2 from 300 to 780 nm.
const COMPONENTS: [[f64; 3]; 49] = [
    [0.04, 0.02, 0.0],
    [6.0, 4.5, 2.0],
    [29.6, 22.4, 4.0],
    [55.3, 42.0, 8.5],
    [57.3, 40.6, 7.8],
    [61.8, 41.6, 6.7],
    [61.5, 38.0, 5.3],
    [68.8, 42.4, 6.1],
    [63.4, 38.5, 3.0],
    [65.8, 35.0, 1.2],
    [94.8, 43.4, -1.1],
    [104.8, 46.3, -0.5],
    [105.9, 43.9, -0.7],
    [96.8, 37.1, -1.2],
    [113.9, 36.7, -2.6],
    [125.6, 35.9, -2.9],
    [125.5, 32.6, -2.8],
    [121.3, 27.9, -2.6],
    [121.3, 24.3, -2.6],
    [113.5, 20.1, -1.8],
    [113.1, 16.2, -1.5],
    [110.8, 13.2, -1.3],
    [106.5, 8.6, -1.2],
    [108.8, 6.1, -1.0],
    [105.3, 4.2, -0.5],
    [104.4, 1.9, -0.3],
    [100.0, 0.0, 0.0],
    [96.0, -1.6, 0.2],
    [95.1, -3.5, 0.5],
    [89.1, -3.5, 2.1],
    [90.5, -5.8, 3.2],
    [90.3, -7.2, 4.1],
    [88.4, -8.6, 4.7],
    [84.0, -9.5, 5.1],
    [85.1, -10.9, 6.7],
    [81.9, -10.7, 7.3],
    [82.6, -12.0, 8.6],
    [84.9, -14.0, 9.8],
    [81.3, -13.6, 10.2],
    [71.9, -12.0, 8.3],
    [74.3, -13.3, 9.6],
    [76.4, -12.9, 8.5],
    [63.3, -10.6, 7.0],
    [71.7, -11.6, 7.6],
    [77.0, -12.2, 8.0],
    [65.2, -10.2, 6.7],
    [47.7, -7.8, 5.2],
    [68.6, -11.2, 7.4],
    [65.0, -10.4, 6.8],
];

/// The temperature of D55 on the scale of today: 5500 K, raised as the second radiation constant was.
const TEMPERATURE_K: f64 = 5500.0 * 1.4388 / 1.4380;

/// M1 and M2, rounded to three decimals as the standard has it.
fn shares(kelvin: f64) -> (f64, f64) {
    let x = -4.6070e9 / kelvin.powi(3) + 2.9678e6 / kelvin.powi(2) + 0.099_11e3 / kelvin + 0.244_063;
    let y = -3.0 * x * x + 2.870 * x - 0.275;
    let m = 0.0241 + 0.2562 * x - 0.7341 * y;
    let rounded = |m: f64| (m * 1000.0).round() / 1000.0;
    (rounded((-1.3515 - 1.7703 * x + 5.9114 * y) / m), rounded((0.0300 - 31.4424 * x + 30.0717 * y) / m))
}

/// Relative spectral power of D55, 100 at 560 nm, at a wavelength from [`FROM_NM`] to [`TO_NM`].
pub fn d55(nm: f64) -> f64 {
    let (m1, m2) = shares(TEMPERATURE_K);
    let at = |[s0, s1, s2]: [f64; 3]| s0 + m1 * s1 + m2 * s2;
    let steps = ((nm - FROM_NM) / STEP_NM).clamp(0.0, (COMPONENTS.len() - 1) as f64);
    let place = (steps as usize).min(COMPONENTS.len() - 2);
    let part = steps - place as f64;
    (1.0 - part) * at(COMPONENTS[place]) + part * at(COMPONENTS[place + 1])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CIE 15, table of D55 (a general colour-science library's copy).
    #[test]
    fn the_published_d55_comes_out() {
        for (nm, published) in [
            (300.0, 0.024),
            (350.0, 27.817),
            (380.0, 32.584),
            (400.0, 60.949),
            (450.0, 97.993),
            (500.0, 100.680),
            (550.0, 102.968),
            (560.0, 100.0),
            (600.0, 94.419),
            (700.0, 82.840),
            (780.0, 71.818),
        ] {
            assert!((d55(nm) - published).abs() < 0.005, "{nm}: {} not {published}", d55(nm));
        }
        assert!((d55(455.0) - (d55(450.0) + d55(460.0)) / 2.0).abs() < 1e-12);
    }

    #[test]
    fn its_shares_are_those_of_5503_kelvin() {
        assert_eq!(shares(TEMPERATURE_K), (-0.785, -0.198));
    }
}
