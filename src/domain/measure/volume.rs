//! A volume as somebody typed it, in whole microlitres.

use super::decimal;

/// A typed volume could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum VolumeError {
    /// It is not a number with an optional unit.
    #[error("type a volume: a number of mL, or with its unit such as 2 L or 64 fl oz")]
    NotAVolume,
    /// The same, told to somebody whose number alone is fluid ounces.
    #[error("type a volume: a number of US fl oz, or with its unit such as 64 fl oz or 2 L")]
    NotFluidOunces,
    /// Its number can be read two ways.
    #[error(transparent)]
    TwoWays(#[from] decimal::TwoWays),
    /// It lies outside what this field accepts.
    #[error("must be from {low} to {high}")]
    OutOfRange {
        /// Smallest allowed, in words.
        low: String,
        /// Largest allowed, in words.
        high: String,
    },
}

/// The most that is accepted at once: a thousand litres.
pub const MOST_UL: i64 = 1_000_000_000;

/// Units by what people write after the number, with what one is in nanolitres. US fluid ounces and
/// gallons are exact in these: 231 cubic inches of 16.387064 mL are a gallon of 128 ounces.
const UNITS: [(&str, i128); 7] = [
    ("fl oz", 29_573_530),
    ("fl. oz", 29_573_530),
    ("floz", 29_573_530),
    ("gal", 3_785_411_784),
    ("ml", 1_000_000),
    ("µl", 1_000),
    ("l", 1_000_000_000),
];

/// Reads what was typed (comma or point; mL, L, US fl oz or gal; mL without a unit) as microlitres,
/// to the nearest.
///
/// ```
/// use shimlight::domain::measure::volume;
/// assert_eq!(volume::read("2 L", 1, volume::MOST_UL), Ok(2_000_000));
/// assert_eq!(volume::read("1950,5", 1, volume::MOST_UL), Ok(1_950_500));
/// ```
///
/// # Errors
/// When it is not a volume, or not within `low_ul..=high_ul`.
pub fn read(text: &str, low_ul: i64, high_ul: i64) -> Result<i64, VolumeError> {
    decimal::read_one_way(text)?;
    let lower = text.trim().to_lowercase();
    let (number, nanolitres) = UNITS
        .into_iter()
        .find_map(|(sign, nl)| lower.strip_suffix(sign).map(|number| (number, nl)))
        .unwrap_or((&lower, 1_000_000));
    // six places: a litre to the microlitre
    let value = decimal::read(number, 6).map_err(|_| VolumeError::NotAVolume)?;
    let ul = (i128::from(value) * nanolitres + 500_000_000) / 1_000_000_000;
    match i64::try_from(ul) {
        Ok(ul) if (low_ul..=high_ul).contains(&ul) => Ok(ul),
        _ => Err(VolumeError::OutOfRange { low: in_words(low_ul), high: in_words(high_ul) }),
    }
}

/// For people: litres to two places from ten litres on, millilitres from 100 mL on, tenths below.
pub fn in_words(ul: i64) -> String {
    if ul.abs() >= 10_000_000 {
        return format!("{} L", decimal::written((ul + ul.signum() * 5_000) / 10_000, 2));
    }
    format!("{} mL", millilitres(ul))
}

/// The number of millilitres, no finer than a graduate shows.
pub fn millilitres(ul: i64) -> String {
    let step = if ul.abs() >= 100_000 { 1_000 } else { 100 };
    decimal::written((ul + ul.signum() * step / 2) / step * step, 3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn volumes_are_read_in_the_units_of_the_bottle() {
        for (typed, ul) in [
            ("1000", 1_000_000),
            ("1.5 l", 1_500_000),
            ("1,5L", 1_500_000),
            ("250 mL", 250_000),
            ("64 fl oz", 1_892_706),
            ("1 gal", 3_785_412),
            ("0.0005 mL", 1),
        ] {
            assert_eq!(read(typed, 0, MOST_UL), Ok(ul), "{typed}");
        }
    }

    #[test]
    fn what_is_no_volume_is_refused() {
        for bad in ["", "L", "a bottle", "-5", "1e3", "2 cups", "NaN mL"] {
            assert_eq!(read(bad, 0, MOST_UL), Err(VolumeError::NotAVolume), "{bad}");
        }
        let error = read("0", 1_000, MOST_UL).expect_err("too little");
        assert_eq!(error.to_string(), "must be from 1 mL to 1000 L");
        assert!(read("999999999999 L", 0, MOST_UL).is_err());
    }

    #[test]
    fn volumes_are_written_no_finer_than_a_graduate_shows() {
        for (ul, words) in [
            (20_000_000, "20 L"),
            (12_345_678, "12.35 L"),
            (3_913_288, "3913 mL"),
            (4_516, "4.5 mL"),
            (99_950, "100 mL"),
            (0, "0 mL"),
            (40, "0 mL"),
        ] {
            assert_eq!(in_words(ul), words, "{ul}");
        }
    }
}
