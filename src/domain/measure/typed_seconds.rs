//! A time that a shutter was open, as people write it on a card.

use crate::calc::quantity::{ExposureTime, OutOfRange};

use super::decimal;

/// A typed time could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotATime {
    /// Nothing was typed.
    #[error("type how long it was open, for example 12, 1:30 or 2 min 5 s")]
    Empty,
    /// It is not a time.
    #[error("“{0}” is not a time: type seconds such as 12, or 1:30, or 2 min 5 s")]
    Unreadable(String),
    /// Its number can be read two ways.
    #[error(transparent)]
    TwoWays(#[from] decimal::TwoWays),
    /// It is shorter or longer than anything that can be recorded.
    #[error("must be from a thousandth of a second to 11 days")]
    OutOfRange,
}

impl From<OutOfRange> for NotATime {
    fn from(_: OutOfRange) -> Self {
        Self::OutOfRange
    }
}

/// Reads a time: `12`, `12 s`, `0,5`, `1/2`, `1:30`, `1:02:00`, `2 min 5 s`, `90 sec`, `1 h 5 min`.
/// A bare number is seconds.
///
/// # Errors
/// When it is empty, not a time, or not from a millisecond to a million seconds.
pub fn parse_seconds(text: &str) -> Result<ExposureTime, NotATime> {
    let typed = text.trim().to_lowercase();
    if typed.is_empty() {
        return Err(NotATime::Empty);
    }
    decimal::read_one_way(&typed)?;
    let unreadable = || NotATime::Unreadable(text.trim().chars().take(40).collect());
    let seconds = if typed.contains(':') {
        clock_face(&typed).ok_or_else(unreadable)?
    } else {
        parts_with_units(&typed).ok_or_else(unreadable)?
    };
    if seconds < 0.001 {
        return Err(NotATime::OutOfRange);
    }
    Ok(ExposureTime::new(seconds)?)
}

/// A time as it was understood, to the millisecond: `8 s`, `12.5 s`, `1 min 5 s`, `1 h 2 min`.
/// [`parse_seconds`] reads it again.
pub fn exactly(millis: i64) -> String {
    let (hours, rest) = (millis / 3_600_000, millis % 3_600_000);
    let (minutes, rest) = (rest / 60_000, rest % 60_000);
    let mut parts = Vec::new();
    for (count, unit) in [(hours, "h"), (minutes, "min")] {
        if count > 0 {
            parts.push(format!("{count} {unit}"));
        }
    }
    if rest > 0 || parts.is_empty() {
        parts.push(format!("{} s", decimal::written(rest, 3)));
    }
    parts.join(" ")
}

/// `m:ss` or `h:mm:ss`, the last part below sixty and possibly with a fraction.
fn clock_face(text: &str) -> Option<f64> {
    let text = text.trim_end_matches(['s', 'm', 'i', 'n', 'h', ' ']);
    let parts: Vec<&str> = text.split(':').map(str::trim).collect();
    if !(2..=3).contains(&parts.len()) {
        return None;
    }
    let (last, whole) = parts.split_last()?;
    let mut total = 0.0;
    for (place, part) in whole.iter().enumerate() {
        let digits = !part.is_empty() && part.len() <= 6 && part.bytes().all(|b| b.is_ascii_digit());
        let number: f64 = if digits { part.parse().ok()? } else { return None };
        if place > 0 && number >= 60.0 {
            return None;
        }
        total = (total + number) * 60.0;
    }
    let seconds = number(last)?;
    (last.len() >= 2 && !last.contains('/') && seconds < 60.0).then_some(total + seconds)
}

/// A number with a unit, several times over, each unit smaller than the one before.
fn parts_with_units(text: &str) -> Option<f64> {
    let mut rest = text;
    let mut total = 0.0;
    let mut before = f64::INFINITY;
    while !rest.is_empty() {
        let end = rest.find(|c: char| c.is_alphabetic() || "′″'\"".contains(c)).unwrap_or(rest.len());
        let (count, tail) = rest.split_at(end);
        let unit_end = tail
            .find(|c: char| !(c.is_alphabetic() || "′″'\".".contains(c)) || c.is_ascii_digit())
            .unwrap_or(tail.len());
        let (unit, after) = tail.split_at(unit_end);
        let size = match unit.trim_end_matches('.') {
            "h" | "hr" | "hrs" | "hour" | "hours" => 3600.0,
            "m" | "min" | "mins" | "minute" | "minutes" | "′" | "'" => 60.0,
            "s" | "sec" | "secs" | "second" | "seconds" | "″" | "\"" | "''" => 1.0,
            "" if before.is_infinite() && after.trim().is_empty() => 1.0,
            _ => return None,
        };
        if size >= before {
            return None;
        }
        total += number(count.trim())? * size;
        before = size;
        rest = after.trim_start();
    }
    before.is_finite().then_some(total)
}

/// `12`, `0.5`, `0,5`, `1/2`; no sign, no exponent.
fn number(text: &str) -> Option<f64> {
    let decimal = |part: &str| -> Option<f64> {
        let plain =
            !part.is_empty() && part.len() <= 12 && part.chars().all(|c| c.is_ascii_digit() || c == '.' || c == ',');
        if plain { part.replace(',', ".").parse().ok() } else { None }
    };
    match text.split_once('/') {
        Some((top, bottom)) => {
            let (top, bottom) = (decimal(top.trim())?, decimal(bottom.trim())?);
            (bottom > 0.0).then(|| top / bottom)
        }
        None => decimal(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<f64, NotATime> {
        parse_seconds(text).map(ExposureTime::as_s)
    }

    #[test]
    fn times_are_read_as_people_write_them() {
        for (text, seconds) in [
            ("12", 12.0),
            ("12 s", 12.0),
            ("12s", 12.0),
            ("0,5", 0.5),
            ("1/2", 0.5),
            ("1/125", 0.008),
            ("1:30", 90.0),
            ("1:05 min", 65.0),
            ("1:02:00", 3720.0),
            ("2 min 5 s", 125.0),
            ("2min5sec", 125.0),
            ("2m 5s", 125.0),
            ("2 min", 120.0),
            ("1/2 min", 30.0),
            ("90 sec.", 90.0),
            ("1 h 5 min", 3900.0),
            ("2′ 5″", 125.0),
        ] {
            assert_eq!(read(text), Ok(seconds), "{text}");
        }
    }

    #[test]
    fn what_is_no_time_is_refused_with_what_was_typed() {
        for bad in
            ["a while", "-5", "1e3", "NaN", "inf", "5 s 2 min", "2 min 5", "1:75", "1:5", ":30", "12 stops", "1/0"]
        {
            assert_eq!(read(bad), Err(NotATime::Unreadable(bad.to_owned())), "{bad}");
        }
        assert_eq!(read("  "), Err(NotATime::Empty));
    }

    #[test]
    fn what_was_understood_is_said_exactly_and_read_again() {
        for (millis, said) in [
            (8_000, "8 s"),
            (12_500, "12.5 s"),
            (65_000, "1 min 5 s"),
            (120_000, "2 min"),
            (3_720_000, "1 h 2 min"),
            (8, "0.008 s"),
        ] {
            assert_eq!(exactly(millis), said);
            assert_eq!(read(said), Ok(millis as f64 / 1000.0), "{said}");
        }
    }

    #[test]
    fn a_time_that_can_be_read_two_ways_is_refused() {
        assert!(matches!(read("1,200 s"), Err(NotATime::TwoWays(_))));
        assert_eq!(read("1,25"), Ok(1.25));
    }

    #[test]
    fn no_time_is_zero_and_none_outlasts_the_term() {
        assert_eq!(read("0"), Err(NotATime::OutOfRange));
        assert_eq!(read("500 h"), Err(NotATime::OutOfRange));
    }
}
