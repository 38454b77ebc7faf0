//! Development time against temperature.

use crate::calc::quantity::{Celsius, Seconds, TemperatureFactor};
use crate::calc::working::{Working, figures, plain, scaled, seconds_text};

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

/// [`development_time`] with its working.
pub fn development_time_working(
    material: Material,
    time: impl Into<Seconds>,
    at: Celsius,
    now: Celsius,
    factor: TemperatureFactor,
) -> Working {
    let given = time.into();
    let other = development_time(material, given, at, now, factor);
    let moved = development_time(Material::Film, given, at, now, factor);
    let formula = format!(
        "t2 = t1 k^((T1 − T2) / 10) = {} s × {}^(({} − {}) / 10) = {} s",
        plain(given.as_s()),
        plain(factor.as_number()),
        plain(at.as_c()),
        plain(now.as_c()),
        scaled(moved.as_s(), 3)
    );
    let (formula, source) = match material {
        Material::Film => (
            formula,
            "the factor by which makers' charts change the time per 10 °C; 2.4 is a value from memory (10 min at 20 °C, 7 min at \
             24 °C)",
        ),
        Material::Paper => (
            format!(
                "{formula}; paper is developed to completion: never below the time given, {} s",
                figures(other.as_s(), 3)
            ),
            "the factor by which makers' charts change the time per 10 °C (2.4 is a value from memory); paper to completion is \
             common practice, no source",
        ),
    };
    Working::of("development time", seconds_text(other.as_s()), formula, source)
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
