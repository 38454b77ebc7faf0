//! Exposure by ISO 2720, for a hole without a lens.
//!
//! EV = log2(N²/t). Reflected light: N²/t = L S/K; incident light: N²/t = E S/C.
//!
//! A hole loses no light in glass: 0.27 stop against the lens that meters assume
//! ([`usual_lens_free_gain_stops`]). It is counted once. For film, whose ISO speed is meant for a
//! lens, it is taken off the time. For paper it is in the exposure index already: EI = 10/Hm puts
//! the metered tone at Hm with q = pi/4, the q of a hole (with a lens it would be 8.1/Hm), and an
//! index found by exposing through holes holds it anyway.

use std::f64::consts::{FRAC_PI_4, PI};

use crate::calc::quantity::{
    Ev100, ExposureIndex, FNumber, Illuminance, Luminance, MeterConstantC, MeterConstantK, Reflectance, Seconds,
};
use crate::calc::working::{Working, figures, plain, scaled, seconds_text};

/// Meter constant C of a flat receptor, lx s (ISO 2720 as commonly tabulated).
pub const METER_CONSTANT_C: f64 = 250.0;
/// Meter constant K of most hand-held meters (ISO 2720 allows 10.6 to 13.4).
pub const METER_CONSTANT_K: f64 = 12.5;

/// Light value from a luminance: `EV100 = log2(100 L / K)`.
pub fn light_value_of_luminance(luminance: Luminance, k: MeterConstantK) -> Ev100 {
    Ev100::computed((100.0 * luminance.as_cd_m2() / k.as_number()).log2())
}

/// Light value from an illuminance: `EV100 = log2(100 E / C)`.
pub fn light_value_of_illuminance(illuminance: Illuminance, c: MeterConstantC) -> Ev100 {
    Ev100::computed((100.0 * illuminance.as_lx() / c.as_number()).log2())
}

/// Light value from what a meter answers: "1/125 at f/16, ISO 100". May lie outside the range of
/// [`Ev100`]; pass it through [`Ev100::new`].
pub fn light_value_of_meter(f_number: FNumber, time: impl Into<Seconds>, iso: ExposureIndex) -> f64 {
    exposure_value(f_number, time) - (iso.as_number() / 100.0).log2()
}

/// The exposure value of an aperture and a time: `log2(N² / t)`.
pub fn exposure_value(f_number: FNumber, time: impl Into<Seconds>) -> f64 {
    (f_number.as_number().powi(2) / time.into().as_s()).log2()
}

/// The metered time, before any reciprocity: `t = 100 N² / (2^EV100 EI)`.
pub fn exposure_time(f_number: FNumber, index: ExposureIndex, light: Ev100) -> Seconds {
    Seconds::computed(f_number.as_number().powi(2) * 100.0 / (light.as_ev().exp2() * index.as_number()))
}

/// Luminance of a matte subject in cd/m²: `L = R E / pi` (Lambertian reflector).
pub fn subject_luminance_cd_m2(illuminance: Illuminance, reflectance: Reflectance) -> f64 {
    illuminance.as_lx() * reflectance.as_share() / PI
}

/// Exposure on the film in lux seconds: `H = (pi/4) L t / N²`, no lens in the way.
pub fn film_exposure_lx_s(luminance: Luminance, f_number: FNumber, time: impl Into<Seconds>) -> f64 {
    FRAC_PI_4 * luminance.as_cd_m2() * time.into().as_s() / f_number.as_number().powi(2)
}

/// The q of a camera with a lens: `(pi/4) T v cos^4(theta)` (ISO 2721, ISO 12232; from memory,
/// arithmetic checked). `transmittance` and `vignetting` from 0 to 1, the angle in degrees.
pub fn lens_q(transmittance: f64, vignetting: f64, axis_angle_deg: f64) -> f64 {
    FRAC_PI_4 * transmittance * vignetting * axis_angle_deg.to_radians().cos().powi(4)
}

/// How many stops more light a hole gives than such a lens: its own q is pi/4.
pub fn lens_free_gain_stops(q_lens: f64) -> f64 {
    (FRAC_PI_4 / q_lens).log2()
}

/// What a hole gains on the lens that meters assume: transmittance 0.9, vignetting 0.98, 10 degrees
/// off the axis, q = 0.65 (ISO 2721, ISO 12232; from memory).
pub fn usual_lens_free_gain_stops() -> f64 {
    lens_free_gain_stops(lens_q(0.9, 0.98, 10.0))
}

/// [`light_value_of_luminance`] with its working.
pub fn light_value_of_luminance_working(luminance: Luminance, k: MeterConstantK) -> Working {
    let ev = figures(light_value_of_luminance(luminance, k).as_ev(), 3);
    let formula = format!(
        "EV100 = log₂(100 L / K) = log₂(100 × {} cd/m² / {}) = {ev}",
        plain(luminance.as_cd_m2()),
        plain(k.as_number())
    );
    Working::of(LIGHT_VALUE, format!("EV {ev}"), formula, "ISO 2720, reflected light; K from 10.6 to 13.4 is allowed")
}

/// [`light_value_of_illuminance`] with its working.
pub fn light_value_of_illuminance_working(illuminance: Illuminance, c: MeterConstantC) -> Working {
    let ev = figures(light_value_of_illuminance(illuminance, c).as_ev(), 3);
    let formula = format!(
        "EV100 = log₂(100 E / C) = log₂(100 × {} lx / {}) = {ev}",
        plain(illuminance.as_lx()),
        plain(c.as_number())
    );
    Working::of(
        LIGHT_VALUE,
        format!("EV {ev}"),
        formula,
        "ISO 2720, incident light; C = 250 is that of a flat receptor",
    )
}

const LIGHT_VALUE: &str = "light value at ISO 100";

/// [`subject_luminance_cd_m2`] with its working.
pub fn subject_luminance_working(illuminance: Illuminance, reflectance: Reflectance) -> Working {
    let luminance = scaled(subject_luminance_cd_m2(illuminance, reflectance), 3);
    Working::of(
        "luminance of the subject",
        format!("{luminance} cd/m²"),
        format!(
            "L = R E / π = {} × {} lx / π = {luminance} cd/m²",
            plain(reflectance.as_share()),
            plain(illuminance.as_lx())
        ),
        "definition of a matte (Lambertian) reflector",
    )
}

/// [`film_exposure_lx_s`] with its working.
pub fn film_exposure_working(luminance: Luminance, f_number: FNumber, time: impl Into<Seconds>) -> Working {
    let t = time.into();
    let h = scaled(film_exposure_lx_s(luminance, f_number, t), 3);
    Working::of(
        "exposure of the film",
        format!("{h} lx s"),
        format!(
            "H = (π/4) L t / N² = (π/4) × {} cd/m² × {} s / {}² = {h} lx s",
            plain(luminance.as_cd_m2()),
            plain(t.as_s()),
            plain(f_number.as_number())
        ),
        "ISO 2721 and ISO 12232: H = q L t / N² (from memory), with q = π/4 on the axis of a hole without a lens",
    )
}

/// [`lens_free_gain_stops`] of such a lens with its working.
pub fn lens_free_gain_working(transmittance: f64, vignetting: f64, axis_angle_deg: f64) -> Working {
    let q = lens_q(transmittance, vignetting, axis_angle_deg);
    let gain = figures(lens_free_gain_stops(q), 3);
    Working::of(
        "what a hole gains on a lens",
        format!("{gain} stops"),
        format!(
            "q = (π/4) T v cos⁴ θ = (π/4) × {} × {} × cos⁴ {}° = {q}; log₂((π/4) / {q}) = {gain} stops",
            plain(transmittance),
            plain(vignetting),
            plain(axis_angle_deg),
            q = scaled(q, 3)
        ),
        "ISO 2721 and ISO 12232 (from memory, arithmetic checked)",
    )
}

/// A time lengthened by stops, with its working.
pub fn time_for_stops_working(time: impl Into<Seconds>, stops: f64) -> Working {
    let t = time.into();
    let longer = t.with_stops(stops);
    Working::of(
        "time for so many stops",
        seconds_text(longer.as_s()),
        format!("t × 2^stops = {} s × 2^({}) = {} s", plain(t.as_s()), plain(stops), scaled(longer.as_s(), 3)),
        "definition of the stop: a factor of two",
    )
}

/// [`exposure_value`] with its working.
pub fn exposure_value_working(f_number: FNumber, time: impl Into<Seconds>) -> Working {
    let t = time.into();
    let ev = exposure_value(f_number, t);
    Working {
        name: "exposure value",
        value: format!("EV {}", figures(ev, 3)),
        formula: format!(
            "EV = log2(N² / t) = log2({}² / {} s) = {}",
            plain(f_number.as_number()),
            plain(t.as_s()),
            figures(ev, 3)
        ),
        source: "definition of the exposure value",
        interval: None,
    }
}

/// [`exposure_time`] with its working.
pub fn exposure_time_working(f_number: FNumber, index: ExposureIndex, light: Ev100) -> Working {
    let t = exposure_time(f_number, index, light);
    Working {
        name: "metered time",
        value: seconds_text(t.as_s()),
        formula: format!(
            "t = 100 N² / (2^EV × EI) = 100 × {}² / (2^{} × {}) = {} s",
            figures(f_number.as_number(), 3),
            figures(light.as_ev(), 3),
            plain(index.as_number()),
            figures(t.as_s(), 3)
        ),
        source: "ISO 2720, reflected light with K = 12.5 (incident C = 250)",
        interval: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::quantity::ExposureTime;
    use proptest::prelude::*;

    #[test]
    fn a_meter_that_says_a_hundredth_at_f16_means_ev_14_64() {
        let ev = light_value_of_meter(
            FNumber::new(16.0).unwrap(),
            ExposureTime::new(0.01).unwrap(),
            ExposureIndex::new(100.0).unwrap(),
        );
        assert!((ev - 14.643_86).abs() < 1e-5, "{ev}");
    }

    proptest! {
        #[test]
        fn more_light_never_means_a_longer_time(
            n in FNumber::MIN..=FNumber::MAX,
            ei in ExposureIndex::MIN..=ExposureIndex::MAX,
            ev in Ev100::MIN..Ev100::MAX - 1.0,
        ) {
            let (n, ei) = (FNumber::new(n).unwrap(), ExposureIndex::new(ei).unwrap());
            let t = exposure_time(n, ei, Ev100::new(ev).unwrap());
            let brighter = exposure_time(n, ei, Ev100::new(ev + 1.0).unwrap());
            prop_assert!(t.as_s().is_finite() && t.as_s() > 0.0);
            prop_assert!((t.stops_over(brighter) - 1.0).abs() < 1e-9);
            let back = light_value_of_meter(n, t, ei);
            prop_assert!((back - ev).abs() < 1e-9, "{back} {ev}");
        }
    }
}
