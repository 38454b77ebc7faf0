//! Latitude and longitude as somebody types them, in millionths of a degree.

use super::decimal;

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

/// Reads a latitude: `39.7425`, `-33.9`, `33.9 S`.
///
/// # Errors
/// When it is not a number of degrees, or beyond a pole.
pub fn latitude(text: &str) -> Result<i64, NotAnAngle> {
    let udeg = angle(text, ['n', 's']).ok_or(NotAnAngle::Unreadable("39.7425 or 33.9 S"))?;
    if udeg.abs() <= 90_000_000 { Ok(udeg) } else { Err(NotAnAngle::OutOfRange("90 S to 90 N")) }
}

/// Reads a longitude: `-105.18`, `105.18 W`, `13.4 E`.
///
/// # Errors
/// When it is not a number of degrees, or more than half way round.
pub fn longitude(text: &str) -> Result<i64, NotAnAngle> {
    let udeg = angle(text, ['e', 'w']).ok_or(NotAnAngle::Unreadable("-105.18 or 105.18 W"))?;
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

/// Both for people: `39.7425° N, 105.18° W`.
pub fn in_words((latitude, longitude): (i64, i64)) -> String {
    let side = |udeg: i64, [positive, negative]: [&'static str; 2]| {
        format!("{}° {}", decimal::written(udeg.abs(), 6), if udeg < 0 { negative } else { positive })
    };
    format!("{}, {}", side(latitude, ["N", "S"]), side(longitude, ["E", "W"]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_are_read_with_a_sign_or_a_letter() {
        assert_eq!(latitude("39.742476"), Ok(39_742_476));
        assert_eq!(latitude("33,9° S"), Ok(-33_900_000));
        assert_eq!(longitude("105.1786 W"), Ok(-105_178_600));
        assert_eq!(longitude("-0.5"), Ok(-500_000));
        assert_eq!(in_words((39_742_476, -105_178_600)), "39.742476° N, 105.1786° W");
        assert_eq!(longitude(&degrees(-500_000)), Ok(-500_000));
    }

    #[test]
    fn what_is_no_angle_is_refused() {
        for bad in ["", "north", "39 44 33", "-33.9 S", "1e1", "39.7 E"] {
            assert!(matches!(latitude(bad), Err(NotAnAngle::Unreadable(_))), "{bad}");
        }
        assert!(matches!(latitude("91"), Err(NotAnAngle::OutOfRange(_))));
        assert!(matches!(longitude("181"), Err(NotAnAngle::OutOfRange(_))));
    }
}
