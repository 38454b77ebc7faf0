//! A length as somebody typed it, kept exactly.

use std::fmt;

use super::decimal;
use crate::calc::working::figures;

/// The unit a person works in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthUnit {
    /// Millimetres.
    Millimetre,
    /// Inches, 25.4 mm exactly.
    Inch,
}

impl LengthUnit {
    /// The sign written after a number.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
        }
    }

    fn nanometres(self) -> i64 {
        match self {
            Self::Millimetre => 1_000_000,
            Self::Inch => 25_400_000,
        }
    }
}

/// A length in whole nanometres, in which both millimetres and inches are exact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Length(i64);

/// A typed length could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LengthError {
    /// Nothing was typed.
    #[error("type a length, for example 120 or 4 3/4 in")]
    Empty,
    /// It is not a number with an optional unit.
    #[error("“{0}” is not a length: type a number such as 120, 4.75 in or 4 3/4 in")]
    NotALength(String),
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

impl LengthError {
    /// Its words, with examples that fit the field in place of the usual ones; as they are where `examples` is
    /// empty, or where the number can be read two ways.
    pub fn such_as(&self, examples: &str) -> String {
        match self {
            _ if examples.is_empty() => self.to_string(),
            Self::Empty => format!("type a length, for example {examples}"),
            Self::NotALength(typed) => format!("“{typed}” is not a length: type for example {examples}"),
            Self::OutOfRange { .. } => format!("{self}, for example {examples}"),
            Self::TwoWays(error) => error.to_string(),
        }
    }
}

impl Length {
    /// From nanometres.
    pub fn from_nm(nanometres: i64) -> Self {
        Self(nanometres)
    }

    /// In nanometres.
    pub fn as_nm(self) -> i64 {
        self.0
    }

    /// From millimetres, rounded to the nanometre.
    pub fn from_mm(millimetres: f64) -> Self {
        Self((millimetres * 1e6).round() as i64)
    }

    /// In millimetres.
    pub fn as_mm(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// In inches.
    pub fn as_inches(self) -> f64 {
        self.0 as f64 / 25.4e6
    }

    /// Reads what was typed: a decimal number (comma or point), a fraction or a whole number with a
    /// fraction, and a unit (mm, cm, m, in, ft, thou, "); without one it is in `unit`.
    ///
    /// # Errors
    /// When nothing was typed, or it is not a length, or it is not within `low..=high`.
    pub fn parse(text: &str, unit: LengthUnit, low: Self, high: Self) -> Result<Self, LengthError> {
        let typed = text.trim();
        if typed.is_empty() {
            return Err(LengthError::Empty);
        }
        let wrong = || LengthError::NotALength(typed.chars().take(40).collect());
        // nobody needs more signs, and what was typed is kept
        if typed.chars().count() > 40 {
            return Err(wrong());
        }
        decimal::read_one_way(typed)?;
        let lower = typed.to_lowercase();
        let (number, nanometres) = split_unit(&lower).unwrap_or((&lower, unit.nanometres()));
        let value = parse_number(number.trim()).ok_or_else(wrong)?;
        let scaled = value * nanometres as f64;
        if !scaled.is_finite() || scaled.abs() > 1e15 {
            return Err(wrong());
        }
        let length = Self(scaled.round() as i64);
        if length < low || length > high {
            return Err(LengthError::OutOfRange { low: low.in_words(unit), high: high.in_words(unit) });
        }
        Ok(length)
    }

    /// In the unit somebody works in, trimmed: `120 mm`, `4.724 in`.
    pub fn in_words(self, unit: LengthUnit) -> String {
        format!("{} {}", self.number(unit), unit.sign())
    }

    /// The bare number in a unit: three decimals of a millimetre, four of an inch, no trailing zeros.
    pub fn number(self, unit: LengthUnit) -> String {
        let text = match unit {
            LengthUnit::Millimetre => format!("{:.3}", self.as_mm()),
            LengthUnit::Inch => format!("{:.4}", self.as_inches()),
        };
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    }
}

/// A computed length as a person reads it, to so many figures: `0.488 mm`, and for somebody who works in
/// inches `0.0192 in (0.488 mm)`, since drills, micrometers and write-ups may be in either.
pub fn computed_words(mm: f64, digits: u32, unit: LengthUnit) -> String {
    let in_mm = format!("{} mm", figures(mm, digits));
    match unit {
        LengthUnit::Millimetre => in_mm,
        LengthUnit::Inch => format!("{} in ({in_mm})", figures(mm / 25.4, digits)),
    }
}

/// The unit in which a length was typed, its unit written out: whoever typed feet works in inches too.
pub fn typed_in(typed: &str) -> LengthUnit {
    match split_unit(&typed.trim().to_lowercase()) {
        Some((_, nm)) if nm % 25_400 == 0 => LengthUnit::Inch,
        _ => LengthUnit::Millimetre,
    }
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.in_words(LengthUnit::Millimetre))
    }
}

/// The number's text and the nanometres of the unit written after it.
fn split_unit(lower: &str) -> Option<(&str, i64)> {
    // longer signs first: "mm" ends in "m" as well
    const UNITS: [(&str, i64); 18] = [
        ("millimetres", 1_000_000),
        ("millimeters", 1_000_000),
        ("centimetres", 10_000_000),
        ("centimeters", 10_000_000),
        ("metres", 1_000_000_000),
        ("meters", 1_000_000_000),
        ("mm", 1_000_000),
        ("cm", 10_000_000),
        ("m", 1_000_000_000),
        ("feet", 304_800_000),
        ("foot", 304_800_000),
        ("ft", 304_800_000),
        // a thousandth of an inch, as a micrometer is read aloud
        ("thou", 25_400),
        ("inches", 25_400_000),
        ("inch", 25_400_000),
        ("in", 25_400_000),
        ("”", 25_400_000),
        ("\"", 25_400_000),
    ];
    UNITS.iter().find_map(|(sign, nm)| lower.strip_suffix(sign).map(|number| (number, *nm)))
}

/// `12`, `4.75`, `4,75`, `3/4`, `4 3/4`; nothing else, no sign, no exponent.
fn parse_number(text: &str) -> Option<f64> {
    let decimal = |part: &str| -> Option<f64> {
        let plain =
            !part.is_empty() && part.len() <= 18 && part.chars().all(|c| c.is_ascii_digit() || c == '.' || c == ',');
        plain.then(|| part.replace(',', ".").parse().ok())?
    };
    let fraction = |part: &str| -> Option<f64> {
        let (top, bottom) = part.split_once('/')?;
        let (top, bottom) = (decimal(top.trim())?, decimal(bottom.trim())?);
        (bottom > 0.0).then_some(top / bottom)
    };
    match text.split_once(' ') {
        Some((whole, rest)) if rest.contains('/') => Some(decimal(whole)? + fraction(rest.trim())?),
        Some(_) => None,
        None if text.contains('/') => fraction(text),
        None => decimal(text),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Length, LengthError> {
        Length::parse(text, LengthUnit::Millimetre, Length::from_mm(1.0), Length::from_mm(5000.0))
    }

    #[test]
    fn inches_and_millimetres_are_exact() {
        assert_eq!(read("4 3/4 in").map(Length::as_nm), Ok(120_650_000));
        assert_eq!(read("120").map(Length::as_nm), Ok(120_000_000));
        assert_eq!(read("12,5 cm").map(Length::as_nm), Ok(125_000_000));
        assert_eq!(read("7/8\"").map(Length::as_nm), Ok(22_225_000));
        assert_eq!(read("2 m").map(Length::as_nm), Ok(2_000_000_000));
        assert_eq!(read("100 thou").map(Length::as_nm), Ok(2_540_000));
        assert_eq!(read("6 ft").map(Length::as_nm), Ok(1_828_800_000));
    }

    #[test]
    fn a_computed_length_is_read_in_the_units_of_its_reader() {
        assert_eq!(computed_words(0.48808, 3, LengthUnit::Millimetre), "0.488 mm");
        assert_eq!(computed_words(0.48808, 3, LengthUnit::Inch), "0.0192 in (0.488 mm)");
    }

    #[test]
    fn the_unit_that_was_typed_is_known_again() {
        for inches in ["4 3/4 in", "4.75\"", "18 thou", "1 ft", "5 Inches"] {
            assert_eq!(typed_in(inches), LengthUnit::Inch, "{inches}");
        }
        for metric in ["120 mm", "12 cm", "0.12 m", "120"] {
            assert_eq!(typed_in(metric), LengthUnit::Millimetre, "{metric}");
        }
    }

    #[test]
    fn a_refusal_gives_examples_that_fit_its_field() {
        let (low, high) = (Length::from_mm(0.01), Length::from_mm(20.0));
        let refused = |typed| Length::parse(typed, LengthUnit::Inch, low, high).expect_err("no hole");
        let such = "0.46 mm, 0.018 in or 18 thou";
        assert_eq!(refused("18").such_as(such), format!("must be from 0.0004 in to 0.7874 in, for example {such}"));
        assert_eq!(refused("small").such_as(such), format!("“small” is not a length: type for example {such}"));
        assert_eq!(refused("").such_as(such), format!("type a length, for example {such}"));
        assert_eq!(refused("18").such_as(""), refused("18").to_string());
    }

    #[test]
    fn what_is_no_length_is_refused_with_what_was_typed() {
        for bad in ["about a hand", "-5", "1e9", "NaN", "inf", "4 3", "3/0", "1 2/3/4", "mm"] {
            assert!(matches!(read(bad), Err(LengthError::NotALength(_))), "{bad}");
        }
        assert_eq!(read("  "), Err(LengthError::Empty));
    }

    #[test]
    fn the_range_is_said_in_the_unit_of_the_person() {
        let error = Length::parse("0.1", LengthUnit::Inch, Length::from_mm(5.0), Length::from_mm(5000.0));
        assert_eq!(error.expect_err("too short").to_string(), "must be from 0.1969 in to 196.8504 in");
    }
}
