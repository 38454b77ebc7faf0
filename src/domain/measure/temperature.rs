//! A temperature as somebody typed it, in thousandths of a degree Celsius.

use super::decimal;

/// It is no temperature of a bath, as somebody is told who types in these degrees.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotATemperature {
    /// A number alone is °C.
    #[error("type a temperature from 0 to 60 °C: a number of °C, or with its unit such as 68 F")]
    Celsius,
    /// A number alone is °F.
    #[error("type a temperature from 32 to 140 °F: a number of °F, or with its unit such as 20 C")]
    Fahrenheit,
}

/// Reads what was typed: °C, or °F with its sign; a decimal comma allowed.
///
/// ```
/// use shimlight::domain::measure::temperature;
/// assert_eq!(temperature::read("20"), Ok(20_000));
/// assert_eq!(temperature::read("68 °F"), Ok(20_000));
/// ```
///
/// # Errors
/// When it is not a temperature, or not from 0 to 60 °C.
pub fn read(text: &str) -> Result<i64, NotATemperature> {
    let tidy = text.trim().to_lowercase().replace('°', "");
    let number = |part: &str| decimal::read(part, 3).map_err(|_| NotATemperature::Celsius);
    let milli_c = match (tidy.strip_suffix('f'), tidy.strip_suffix('c')) {
        (Some(fahrenheit), _) => {
            let ninths = (number(fahrenheit)? - 32_000) * 5;
            // to the nearest thousandth
            (ninths * 2 + 9 * ninths.signum()) / 18
        }
        (None, Some(celsius)) => number(celsius)?,
        (None, None) => number(&tidy)?,
    };
    (0..=60_000).contains(&milli_c).then_some(milli_c).ok_or(NotATemperature::Celsius)
}

/// The number of degrees Celsius.
pub fn celsius(milli_c: i64) -> String {
    decimal::written(milli_c, 3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_are_read_as_thermometers_show_them() {
        for (typed, milli) in [("20", 20_000), ("21,5 °C", 21_500), ("68F", 20_000), ("75 f", 23_889), ("32 F", 0)] {
            assert_eq!(read(typed), Ok(milli), "{typed}");
        }
        for bad in ["", "warm", "-1", "61", "20 K", "10 F"] {
            assert_eq!(read(bad), Err(NotATemperature::Celsius), "{bad}");
        }
    }
}
