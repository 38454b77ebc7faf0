//! From the codes of a scan to reflectance and density.

/// How the codes of a picture stand for reflectance. Embedded colour profiles are ignored.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Transfer {
    /// sRGB, IEC 61966-2-1 (value from memory).
    Srgb,
    /// Reflectance is the code to this power, 1 to 3.
    Gamma(f64),
    /// The code is the reflectance.
    Linear,
}

/// The darkest reflectance that is told apart from nothing: a density of 4. A code of zero has no
/// logarithm, and no reflection print reaches 3.
pub const DARKEST: f32 = 1e-4;

impl Transfer {
    /// Reflectance, 0 to 1, of a code as a share of full scale.
    pub fn reflectance(self, v: f64) -> f64 {
        match self {
            Self::Srgb if v <= 0.04045 => v / 12.92,
            Self::Srgb => ((v + 0.055) / 1.055).powf(2.4),
            Self::Gamma(gamma) => v.powf(gamma),
            Self::Linear => v,
        }
    }

    /// The reflectance of every code up to `full`, 255 or 65535.
    pub fn table(self, full: u16) -> Vec<f32> {
        (0..=full).map(|code| self.reflectance(f64::from(code) / f64::from(full)) as f32).collect()
    }
}

/// Density, `-log10 R`: 0 for a perfect white, at most 4.
pub fn density(reflectance: f32) -> f32 {
    -reflectance.max(DARKEST).log10()
}

/// Weights of red, green and blue in the luminance, applied after linearising (IEC 61966-2-1, value from memory).
pub const LUMINANCE: [f32; 3] = [0.2126, 0.7152, 0.0722];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_of_the_scale_is_a_fifth_of_the_light() {
        // IEC 61966-2-1: code 128 of 255 is 0.2159 of the light
        assert!((Transfer::Srgb.reflectance(128.0 / 255.0) - 0.2159).abs() < 1e-4);
        assert_eq!(Transfer::Gamma(2.0).reflectance(0.5), 0.25);
        assert_eq!(Transfer::Linear.reflectance(0.5), 0.5);
    }

    #[test]
    fn every_table_rises_from_nothing_to_one() {
        for transfer in [Transfer::Srgb, Transfer::Gamma(2.2), Transfer::Gamma(1.0), Transfer::Linear] {
            for full in [255, 65535] {
                let table = transfer.table(full);
                assert_eq!(table.len(), usize::from(full) + 1);
                assert_eq!(table[0], 0.0, "{transfer:?}");
                assert!((table[usize::from(full)] - 1.0).abs() < 1e-6, "{transfer:?}");
                assert!(table.is_sorted(), "{transfer:?}");
            }
        }
    }

    #[test]
    fn nothing_has_no_logarithm_but_a_density_all_the_same() {
        assert_eq!(density(0.0), 4.0);
        assert!((density(0.5) - std::f32::consts::LOG10_2).abs() < 1e-5);
        assert_eq!(density(1.0), 0.0);
    }
}
