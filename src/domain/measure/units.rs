//! The units a person reads and types. Stored is metric; only what is shown follows the person.

use super::{
    decimal,
    temperature::{self, NotATemperature},
    volume::{self, VolumeError},
};

/// One US fluid ounce, nanolitres: 231 cubic inches of 16.387064 mL a gallon, 128 ounces to it
/// (NIST Handbook 44, appendix C).
const FLUID_OUNCE_NL: i64 = 29_573_530;

/// Fluid ounces in so many parts of one, to the nearest. The largest volume that is ever read is 10¹¹ µL.
fn ounces(ul: i64, parts: i64) -> i64 {
    (ul * 1_000 * parts + ul.signum() * FLUID_OUNCE_NL / 2) / FLUID_OUNCE_NL
}

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
    /// use shimlight::domain::measure::units::Units;
    /// assert_eq!(Units::Metric.volume(2_000_000), "2000 mL");
    /// assert_eq!(Units::Inch.volume(2_000_000), "67.6 fl oz (2000 mL)");
    /// ```
    pub fn volume(self, ul: i64) -> String {
        let metric = volume::in_words(ul);
        match self {
            Self::Metric => metric,
            Self::Inch => {
                format!("{} fl oz ({metric})", decimal::written(ounces(ul, 10), 1))
            }
        }
    }

    /// The sign of a volume, after a field for one.
    pub fn volume_sign(self) -> &'static str {
        match self {
            Self::Metric => "mL",
            Self::Inch => "fl oz",
        }
    }

    /// The number of a volume as a field begins with it, beside [`Self::volume_sign`]: as fine as a graduate shows. What is
    /// sent back unchanged has to be taken for the volume itself, not for this number.
    pub fn volume_typed(self, ul: i64) -> String {
        match self {
            Self::Metric => volume::millilitres(ul),
            Self::Inch => decimal::written(ounces(ul, 100), 2),
        }
    }

    /// Reads a volume as microlitres: in these units unless it carries its own.
    ///
    /// ```
    /// use shimlight::domain::measure::{units::Units, volume::MOST_UL};
    /// assert_eq!(Units::Metric.read_volume("17", 1, MOST_UL), Ok(17_000));
    /// assert_eq!(Units::Inch.read_volume("17", 1, MOST_UL), Ok(502_750));
    /// assert_eq!(Units::Inch.read_volume("17 mL", 1, MOST_UL), Ok(17_000));
    /// ```
    ///
    /// # Errors
    /// When it is not a volume, or not within `low_ul..=high_ul`, said in these units.
    pub fn read_volume(self, text: &str, low_ul: i64, high_ul: i64) -> Result<i64, VolumeError> {
        let bare = !text.contains(char::is_alphabetic);
        let read = match self {
            Self::Inch if bare => volume::read(&format!("{text} fl oz"), low_ul, high_ul),
            _ => volume::read(text, low_ul, high_ul),
        };
        read.map_err(|error| match (self, error) {
            (Self::Inch, VolumeError::NotAVolume) => VolumeError::NotFluidOunces,
            (Self::Inch, VolumeError::OutOfRange { .. }) => {
                VolumeError::OutOfRange { low: ounces_from(low_ul), high: ounces_to(high_ul) }
            }
            (_, error) => error,
        })
    }

    /// A temperature of thousandths of a degree Celsius.
    ///
    /// ```
    /// use shimlight::domain::measure::units::Units;
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
        let read = if text.to_lowercase().contains(['c', 'f']) {
            temperature::read(text)
        } else {
            temperature::read(&format!("{text} {}", self.degree()))
        };
        read.map_err(|_| match self {
            Self::Metric => NotATemperature::Celsius,
            Self::Inch => NotATemperature::Fahrenheit,
        })
    }

    /// The sign of a degree.
    pub fn degree(self) -> &'static str {
        match self {
            Self::Metric => "°C",
            Self::Inch => "°F",
        }
    }
}

/// The end of a range in fluid ounces, rounded inwards so that it is itself accepted, with the metric one.
fn ounces_from(low_ul: i64) -> String {
    let hundredths = (low_ul * 100_000 + FLUID_OUNCE_NL - 1) / FLUID_OUNCE_NL;
    format!("{} fl oz ({})", decimal::written(hundredths, 2), volume::in_words(low_ul))
}

/// The other end.
fn ounces_to(high_ul: i64) -> String {
    format!("{} fl oz ({})", decimal::written(high_ul * 100_000 / FLUID_OUNCE_NL, 2), volume::in_words(high_ul))
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
        assert_eq!(Units::Metric.read_temperature("68"), Err(NotATemperature::Celsius));
        assert_eq!(Units::Inch.read_temperature("20"), Err(NotATemperature::Fahrenheit));
        let most = volume::MOST_UL;
        for (typed, ul) in
            [("17", 502_750), ("1,5", 44_360), ("2 L", 2_000_000), ("250 mL", 250_000), ("1 gal", 3_785_412)]
        {
            assert_eq!(Units::Inch.read_volume(typed, 1, most), Ok(ul), "{typed}");
        }
        assert_eq!(Units::Metric.read_volume("17 fl oz", 1, most), Ok(502_750));
        assert_eq!(Units::Inch.read_volume("much", 1, most), Err(VolumeError::NotFluidOunces));
        assert_eq!(Units::Inch.read_volume("", 1, most), Err(VolumeError::NotFluidOunces));
    }

    #[test]
    fn the_range_a_person_is_told_in_fluid_ounces_is_itself_accepted() {
        for (low, high) in
            [(10_000, volume::MOST_UL), (1, volume::MOST_UL), (50_000, 100_000_000), (0, 100_000_000_000)]
        {
            let told = Units::Inch.read_volume("99999999", low, high).expect_err("too much").to_string();
            let ends: Vec<&str> = told.trim_start_matches("must be from ").split(" to ").collect();
            for end in ends {
                let number = end.split(" fl oz").next().expect("a number");
                assert!(Units::Inch.read_volume(number, low, high).is_ok(), "{told}: {number}");
            }
        }
        let told = Units::Inch.read_volume("0", 10_000, volume::MOST_UL).expect_err("too little").to_string();
        assert_eq!(told, "must be from 0.34 fl oz (10 mL) to 33814.02 fl oz (1000 L)");
    }

    #[test]
    fn a_volume_typed_in_fluid_ounces_is_seen_again_as_it_was_typed() {
        for hundredths in (1..20_000).step_by(37) {
            let typed = decimal::written(hundredths, 2);
            let ul = Units::Inch.read_volume(&typed, 1, volume::MOST_UL).expect("a volume");
            assert_eq!(Units::Inch.volume_typed(ul), typed);
        }
        assert_eq!(Units::Metric.volume_typed(1_892_706), "1893");
    }

    #[test]
    fn what_is_shown_in_fahrenheit_reads_back_as_the_same_temperature_to_a_tenth() {
        for milli_c in (0..=60_000).step_by(250) {
            let back = temperature::read(&Units::Inch.temperature(milli_c)).expect("a temperature");
            assert!((back - milli_c).abs() <= 28, "{milli_c}: {back}");
        }
    }
}
