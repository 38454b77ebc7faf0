//! How long something stays in a bath at today's temperature.

use crate::calc::{
    darkroom::development::{Material, development_time},
    quantity::{Celsius, ExposureTime, TemperatureFactor},
    working::seconds_text,
};

use crate::domain::{
    measure::temperature,
    stock::{
        paper::PaperBase,
        product::{ProductKind, Times},
    },
};

/// One base's time.
#[derive(Clone, Debug, PartialEq)]
pub struct TimeToday {
    /// What is in the bath.
    pub base: PaperBase,
    /// The label's time.
    pub label_s: f64,
    /// The time today, seconds.
    pub today_s: f64,
    /// How it was worked out, for people.
    pub why: String,
}

/// The times of a product at a bath's temperature (thousandths of a degree). Film's development
/// follows the temperature; paper is developed to completion and stays at least the label's time;
/// other baths keep the label's time.
pub fn times_today(kind: ProductKind, times: &Times, now_milli_c: i64) -> Vec<TimeToday> {
    [PaperBase::ResinCoated, PaperBase::Fibre, PaperBase::Film]
        .into_iter()
        .filter_map(|base| time_today(kind, times, base, now_milli_c))
        .collect()
}

/// The time for one base; `None` where the card gives none. For an unknown base the longer of the papers’ times.
pub fn time_today(kind: ProductKind, times: &Times, base: PaperBase, now_milli_c: i64) -> Option<TimeToday> {
    let label_s = times.of(base)? as f64 / 1000.0;
    let said = seconds_text(label_s);
    if kind != ProductKind::Developer {
        return Some(TimeToday { base, label_s, today_s: label_s, why: format!("the label’s time: {said}") });
    }
    let Some(at_milli_c) = times.at_milli_c else {
        let why = format!("the label’s time: {said}; its card gives no temperature, so it is not moved");
        return Some(TimeToday { base, label_s, today_s: label_s, why });
    };
    let (at, now) = (Celsius::new(at_milli_c as f64 / 1000.0).ok()?, Celsius::new(now_milli_c as f64 / 1000.0).ok()?);
    let factor = TemperatureFactor::new(times.factor_per_10c_milli as f64 / 1000.0).ok()?;
    let material = if base == PaperBase::Film { Material::Film } else { Material::Paper };
    let today_s = development_time(material, ExposureTime::new(label_s).ok()?, at, now, factor).as_s();
    let why = match material {
        Material::Film => format!(
            "{said} × {}^(({} − {}) / 10)",
            factor.as_number(),
            temperature::celsius(at_milli_c),
            temperature::celsius(now_milli_c)
        ),
        Material::Paper if today_s > label_s => {
            format!("developed to completion: longer than {said}, because the bath is colder; watch it, not the clock")
        }
        Material::Paper => format!("developed to completion: never shorter than {said}, however warm the bath"),
    };
    Some(TimeToday { base, label_s, today_s, why })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times() -> Times {
        Times {
            rc_ms: Some(60_000),
            fibre_ms: Some(120_000),
            film_ms: Some(600_000),
            at_milli_c: Some(20_000),
            factor_per_10c_milli: 2_400,
        }
    }

    /// 10 min at 20 °C are 7 min at 24 °C on the charts that makers print (value from memory).
    #[test]
    fn film_follows_the_temperature_and_paper_is_never_shorter() {
        let warm = times_today(ProductKind::Developer, &times(), 24_000);
        let of = |base| warm.iter().find(|time| time.base == base).expect("given").today_s;
        assert!((of(PaperBase::Film) / 60.0 - 7.0).abs() < 0.1, "{warm:?}");
        assert_eq!((of(PaperBase::ResinCoated), of(PaperBase::Fibre)), (60.0, 120.0));
        let cold = times_today(ProductKind::Developer, &times(), 16_000);
        assert!(cold.iter().all(|time| time.today_s > time.label_s), "{cold:?}");
    }

    #[test]
    fn a_fixer_keeps_its_time_and_nothing_is_made_up() {
        let fixer = times_today(ProductKind::Fixer, &times(), 30_000);
        assert!(fixer.iter().all(|time| time.today_s == time.label_s), "{fixer:?}");
        assert_eq!(times_today(ProductKind::Developer, &Times::NONE, 20_000), []);
        let bare = Times { at_milli_c: None, film_ms: None, ..times() };
        assert!(times_today(ProductKind::Developer, &bare, 30_000).iter().all(|time| time.today_s == time.label_s));
    }
}
