//! The units a person reads and types. Stored is metric; only what is shown follows the person.

use super::{
    decimal,
    temperature::{self, NotATemperature},
    volume,
};

/// One US fluid ounce, microlitres: 231 cubic inches of 16.387064 mL a gallon, 128 ounces to it
/// (NIST Handbook 44, appendix C).
const FLUID_OUNCE_UL: i64 = 29_574;

/// What a person reads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Units {
    /// Millimetres, degrees Celsius, millilitres.
    #[default]
    Metric,
    /// Inches, degrees Fahrenheit, US fluid ounces.
    Inch,
}

impl Units {
    /// The stored word.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Metric => "metric",
            Self::Inch => "inch",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Metric, Self::Inch].into_iter().find(|units| units.as_str() == word)
    }

    /// The other ones.
    pub fn other(self) -> Self {
        match self {
            Self::Metric => Self::Inch,
            Self::Inch => Self::Metric,
        }
    }

    /// The unit of length, for a button.
    pub fn lengths(self) -> &'static str {
        match self {
            Self::Metric => "millimetres",
            Self::Inch => "inches",
        }
    }

    /// What is read in these, for a button.
    pub fn words(self) -> &'static str {
        match self {
            Self::Metric => "°C and mL",
            Self::Inch => "°F and US fl oz",
        }
    }

    /// A volume of whole microlitres: in fluid ounces the metric one follows, since graduates and
    /// bottles carry both.
    ///
    /// ```
    /// use shimlight::domain::units::Units;
    /// assert_eq!(Units::Metric.volume(2_000_000), "2000 mL");
    /// assert_eq!(Units::Inch.volume(2_000_000), "67.6 fl oz (2000 mL)");
    /// ```
    pub fn volume(self, ul: i64) -> String {
        let metric = volume::in_words(ul);
        match self {
            Self::Metric => metric,
            Self::Inch => {
                let tenths = (ul * 10 + ul.signum() * FLUID_OUNCE_UL / 2) / FLUID_OUNCE_UL;
                format!("{} fl oz ({metric})", decimal::written(tenths, 1))
            }
        }
    }

    /// A temperature of thousandths of a degree Celsius.
    ///
    /// ```
    /// use shimlight::domain::units::Units;
    /// assert_eq!(Units::Metric.temperature(20_000), "20 °C");
    /// assert_eq!(Units::Inch.temperature(20_000), "68 °F");
    /// ```
    pub fn temperature(self, milli_c: i64) -> String {
        format!("{} {}", self.degrees(milli_c), self.degree())
    }

    /// The number of degrees, to be typed and shown beside [`Self::degree`].
    pub fn degrees(self, milli_c: i64) -> String {
        match self {
            Self::Metric => temperature::celsius(milli_c),
            // to a tenth: no bath thermometer shows more
            Self::Inch => {
                let milli_f = milli_c * 9 / 5 + 32_000;
                decimal::written((milli_f + milli_f.signum() * 50) / 100, 1)
            }
        }
    }

    /// Reads a temperature: in these units unless it carries its own.
    ///
    /// # Errors
    /// When it is no temperature, or not from 0 to 60 °C.
    pub fn read_temperature(self, text: &str) -> Result<i64, NotATemperature> {
        if text.to_lowercase().contains(['c', 'f']) {
            temperature::read(text)
        } else {
            temperature::read(&format!("{text} {}", self.degree()))
        }
    }

    /// The sign of a degree.
    pub fn degree(self) -> &'static str {
        match self {
            Self::Metric => "°C",
            Self::Inch => "°F",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn baths_read_as_the_person_is_used_to() {
        // 20 °C is 68 °F, 24 °C is 75.2 °F; a US quart is 32 fl oz and 946.353 mL (NIST Handbook 44, appendix C)
        assert_eq!(Units::Inch.temperature(24_000), "75.2 °F");
        assert_eq!(Units::Inch.temperature(0), "32 °F");
        assert_eq!(Units::Inch.volume(946_353), "32 fl oz (946 mL)");
        assert_eq!(Units::Inch.volume(0), "0 fl oz (0 mL)");
        assert_eq!(Units::Metric.volume(946_353), "946 mL");
    }

    #[test]
    fn a_number_without_a_unit_is_read_in_the_persons_own() {
        assert_eq!(Units::Inch.read_temperature("68"), Ok(20_000));
        assert_eq!(Units::Metric.read_temperature("20,5"), Ok(20_500));
        assert_eq!(Units::Inch.read_temperature("20 °C"), Ok(20_000));
        assert_eq!(Units::Metric.read_temperature("68 F"), Ok(20_000));
        assert_eq!(Units::Metric.read_temperature("68"), Err(NotATemperature));
    }

    #[test]
    fn what_is_shown_in_fahrenheit_reads_back_as_the_same_temperature_to_a_tenth() {
        for milli_c in (0..=60_000).step_by(250) {
            let back = temperature::read(&Units::Inch.temperature(milli_c)).expect("a temperature");
            assert!((back - milli_c).abs() <= 28, "{milli_c}: {back}");
        }
    }
}
