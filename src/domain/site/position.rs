//! Latitude and longitude as somebody types them, in millionths of a degree.

use jiff::tz::TimeZone;

use crate::domain::{instant::Instant, measure::decimal};

/// So far from the middle of its time zone, in degrees, few places lie (our own judgement).
const FAR_FROM_ZONE: f64 = 45.0;

/// A typed latitude or longitude could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAnAngle {
    /// It is not a number of degrees.
    #[error("type degrees with decimals, such as {0}")]
    Unreadable(&'static str),
    /// It lies beyond the pole or the date line.
    #[error("must be from {0}")]
    OutOfRange(&'static str),
}

/// Reads a latitude: `48.25`, `-36.5`, `36.5 S`.
///
/// # Errors
/// When it is not a number of degrees, or beyond a pole.
pub fn latitude(text: &str) -> Result<i64, NotAnAngle> {
    let udeg = angle(text, ['n', 's']).ok_or(NotAnAngle::Unreadable("48.25 or 36.5 S"))?;
    if udeg.abs() <= 90_000_000 { Ok(udeg) } else { Err(NotAnAngle::OutOfRange("90 S to 90 N")) }
}

/// Reads a longitude: `-101.75`, `101.75 W`, `13.5 E`.
///
/// # Errors
/// When it is not a number of degrees, or more than half way round.
pub fn longitude(text: &str) -> Result<i64, NotAnAngle> {
    let udeg = angle(text, ['e', 'w']).ok_or(NotAnAngle::Unreadable("-101.75 or 101.75 W"))?;
    if udeg.abs() <= 180_000_000 { Ok(udeg) } else { Err(NotAnAngle::OutOfRange("180 W to 180 E")) }
}

/// Degrees with a sign or one of two letters, the second of which is negative.
fn angle(text: &str, [positive, negative]: [char; 2]) -> Option<i64> {
    let lower = text.trim().to_lowercase().replace('−', "-").replace('°', "");
    let (number, letter) = match lower.strip_suffix([positive, negative]) {
        Some(rest) => (rest.trim(), lower.chars().last()),
        None => (lower.trim(), None),
    };
    let (minus, digits) = number.strip_prefix('-').map_or((false, number), |rest| (true, rest));
    if minus && letter.is_some() {
        return None;
    }
    let udeg = decimal::read(digits, 6).ok()?;
    Some(if minus || letter == Some(negative) { -udeg } else { udeg })
}

/// As a form shows it: degrees with a sign.
pub fn degrees(udeg: i64) -> String {
    decimal::written(udeg, 6)
}

/// Both for people: `48.25° N, 101.75° W`.
pub fn in_words((latitude, longitude): (i64, i64)) -> String {
    let side = |udeg: i64, [positive, negative]: [&'static str; 2]| {
        format!("{}° {}", decimal::written(udeg.abs(), 6), if udeg < 0 { negative } else { positive })
    };
    format!("{}, {}", side(latitude, ["N", "S"]), side(longitude, ["E", "W"]))
}

/// A longitude for people: `101.75° W`.
pub fn longitude_in_words(longitude: i64) -> String {
    format!("{}° {}", decimal::written(longitude.abs(), 6), if longitude < 0 { "W" } else { "E" })
}

/// Whether a longitude (millionths of a degree) lies more than 45° from fifteen times the standard offset of
/// a zone, as its clocks are about `now`. Clocks may stand so by law: it can only be asked back. A zone without
/// a place, UTC, is far from none.
pub fn is_far_from_zone(longitude: i64, zone: &TimeZone, now: Instant) -> bool {
    if zone.iana_name().is_none_or(|name| !name.contains('/')) {
        return false;
    }
    let hours = |at: Instant| f64::from(zone.to_offset(at.as_timestamp()).seconds()) / 3600.0;
    // where clocks are put forward they are ahead in summer
    let standard = hours(now).min(hours(now.plus_minutes(60 * 24 * 182)));
    let apart = (longitude as f64 / 1e6 - standard * 15.0 + 180.0).rem_euclid(360.0) - 180.0;
    apart.abs() > FAR_FROM_ZONE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_longitude_without_its_minus_is_far_from_its_zone() {
        let noon = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        let far = |longitude: &str, zone: &str| {
            let zone = TimeZone::get(zone).expect("bundled zones");
            is_far_from_zone(super::longitude(longitude).expect("an angle"), &zone, noon)
        };
        assert!(far("101.75", "America/Denver") && !far("-101.75", "America/Denver"));
        assert!(far("-13.4", "Australia/Sydney") && far("-151.2", "Australia/Sydney"));
        // one clock for the whole of China; on both sides of the date line
        assert!(!far("80", "Asia/Shanghai") && !far("-176.5", "Pacific/Chatham") && !far("-101.75", "UTC"));
        assert_eq!(longitude_in_words(101_750_000), "101.75° E");
    }

    #[test]
    fn degrees_are_read_with_a_sign_or_a_letter() {
        assert_eq!(latitude("48.254321"), Ok(48_254_321));
        assert_eq!(latitude("33,9° S"), Ok(-33_900_000));
        assert_eq!(longitude("101.7532 W"), Ok(-101_753_200));
        assert_eq!(longitude("-0.5"), Ok(-500_000));
        assert_eq!(in_words((48_254_321, -101_753_200)), "48.254321° N, 101.7532° W");
        assert_eq!(longitude(&degrees(-500_000)), Ok(-500_000));
    }

    #[test]
    fn what_is_no_angle_is_refused() {
        for bad in ["", "north", "48 15 20", "-33.9 S", "1e1", "48.2 E"] {
            assert!(matches!(latitude(bad), Err(NotAnAngle::Unreadable(_))), "{bad}");
        }
        assert!(matches!(latitude("91"), Err(NotAnAngle::OutOfRange(_))));
        assert!(matches!(longitude("181"), Err(NotAnAngle::OutOfRange(_))));
    }
}
