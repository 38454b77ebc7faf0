//! Development time against temperature.

use crate::calc::quantity::{Celsius, Seconds, TemperatureFactor};

/// Factor per 10 °C of the charts that makers print (value from memory: 10 min at 20 °C becomes
/// 7 min at 24 °C).
pub const FACTOR_PER_10C: f64 = 2.4;

/// What is being developed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Material {
    /// Paper is developed to completion: a warmer bath never shortens its time.
    Paper,
    /// Film is developed to a contrast: its time follows the temperature.
    Film,
}

/// Time at another temperature: `t2 = t1 k^((T1 - T2)/10)`; for paper never below the time given.
pub fn development_time(
    material: Material,
    time: impl Into<Seconds>,
    at: Celsius,
    now: Celsius,
    factor: TemperatureFactor,
) -> Seconds {
    let given = time.into().as_s();
    let moved = given * factor.as_number().powf((at.as_c() - now.as_c()) / 10.0);
    Seconds::computed(match material {
        Material::Paper => moved.max(given),
        Material::Film => moved,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::quantity::ExposureTime;

    fn at_24(material: Material) -> f64 {
        let c = |t| Celsius::new(t).unwrap();
        let factor = TemperatureFactor::new(FACTOR_PER_10C).unwrap();
        development_time(material, ExposureTime::new(600.0).unwrap(), c(20.0), c(24.0), factor).as_s()
    }

    #[test]
    fn a_warm_bath_shortens_film_but_never_paper() {
        assert!((at_24(Material::Film) / 60.0 - 7.0).abs() < 0.1, "{}", at_24(Material::Film));
        assert_eq!(at_24(Material::Paper), 600.0);
    }
}
