//! A forecast as it stood on a page, on its way back with the sheet it led to.

use super::{aim::Aim, found_light::FoundLight, starting_exposure::StartingExposure};
use crate::domain::measure::decimal::milli;

/// A forecast that somebody was shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShownForecast {
    /// The light it was for, in words.
    pub light: String,
    /// The place on the film it was for, in words; empty for the middle.
    pub aim: String,
    /// The time, milliseconds.
    pub forecast_ms: i64,
    /// Lower end of its interval.
    pub low_ms: i64,
    /// Upper end.
    pub high_ms: i64,
    /// How many sheets it rested on.
    pub based_on: i64,
    /// What experience added, thousandths of a stop.
    pub experience_milli: i64,
}

impl ShownForecast {
    /// What a page shows of a starting exposure.
    pub fn of(start: &StartingExposure, found: FoundLight) -> Self {
        let forecast = &start.forecast;
        let forecast_ms = forecast.time.as_millis().max(1);
        Self {
            light: found.in_words(),
            aim: start.aim.words(),
            forecast_ms,
            low_ms: forecast.low.as_millis().clamp(1, forecast_ms),
            high_ms: forecast.high.as_millis().max(forecast_ms),
            based_on: i64::try_from(start.experience.based_on).unwrap_or(i64::MAX),
            experience_milli: milli(start.experience.correction_stops),
        }
    }

    /// One line that [`ShownForecast::parse`] reads again.
    pub fn line(&self) -> String {
        let Self { light, aim, forecast_ms, low_ms, high_ms, based_on, experience_milli } = self;
        format!("{forecast_ms} {low_ms} {high_ms} {based_on} {experience_milli}|{light}|{aim}")
    }

    /// From a [`ShownForecast::line`].
    pub fn parse(line: &str) -> Option<Self> {
        let mut parts = line.splitn(3, '|');
        let (numbers, light, aim) = (parts.next()?, parts.next()?, parts.next()?);
        let numbers: Vec<i64> = numbers.split(' ').map(str::parse).collect::<Result<_, _>>().ok()?;
        let [forecast_ms, low_ms, high_ms, based_on, experience_milli] = numbers[..] else { return None };
        let ordered = 0 < low_ms && low_ms <= forecast_ms && forecast_ms <= high_ms;
        ordered.then(|| Self {
            light: light.to_owned(),
            aim: aim.to_owned(),
            forecast_ms,
            low_ms,
            high_ms,
            based_on,
            experience_milli,
        })
    }
}

/// Of the forecasts on a page, the one that belongs to a sheet: the only one that was asked for, whatever
/// the light turned out to be; from a table of skies the one of the light as found.
pub fn shown_for(shown: Vec<ShownForecast>, found: FoundLight, aim: Aim) -> Option<ShownForecast> {
    if shown.len() == 1 {
        return shown.into_iter().next();
    }
    let (light, aim) = (found.in_words(), aim.words());
    shown.into_iter().find(|shown| shown.light == light && shown.aim == aim)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::light::sky::{Sky, SunFrom};

    fn shown(light: &str, forecast_ms: i64) -> ShownForecast {
        ShownForecast {
            light: light.to_owned(),
            aim: String::new(),
            forecast_ms,
            low_ms: forecast_ms / 2,
            high_ms: forecast_ms * 2,
            based_on: 3,
            experience_milli: -250,
        }
    }

    #[test]
    fn a_line_is_read_again_and_nonsense_is_none() {
        let one = shown("full sun, distinct shadows; sun from the side", 33_333);
        assert_eq!(ShownForecast::parse(&one.line()), Some(one));
        for bad in ["", "1 2 3", "5 9 1 0 0|EV 15|", "x 1 1 0 0|EV 15|", "5 1 9 0|EV 15|"] {
            assert_eq!(ShownForecast::parse(bad), None, "{bad}");
        }
    }

    #[test]
    fn the_one_asked_for_stays_whatever_was_found_and_a_table_gives_that_of_its_sky() {
        let hazy = FoundLight::Sky(Sky::HazySun, SunFrom::Front);
        let asked = shown("EV 15", 10_000);
        assert_eq!(shown_for(vec![asked.clone()], hazy, Aim::MIDDLE), Some(asked.clone()));
        let table = vec![asked, shown(&hazy.in_words(), 20_000)];
        assert_eq!(shown_for(table.clone(), hazy, Aim::MIDDLE).map(|shown| shown.forecast_ms), Some(20_000));
        assert_eq!(shown_for(table, FoundLight::Sky(Sky::Sunset, SunFrom::Front), Aim::MIDDLE), None);
        assert_eq!(shown_for(Vec::new(), hazy, Aim::MIDDLE), None);
    }
}
