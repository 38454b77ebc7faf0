//! `--curve`: what is known of the paper and of the scanner's codes.

use serde::{Deserialize, Deserializer};

use crate::calc::imaging::curve::PaperCurve;
use crate::calc::imaging::sheet::Known;
use crate::calc::imaging::transfer::Transfer;
use crate::calc::quantity::{BaseReflectance, Flare, IsoRange, NetMaximumDensity, ScanGamma};

/// What was given; the rest is the usual.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct CurveOption {
    pub d_max: Option<NetMaximumDensity>,
    pub iso_range: Option<IsoRange>,
    pub transfer: Option<Transfer>,
    pub flare: Option<Flare>,
    pub base_reflectance: Option<BaseReflectance>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Typed {
    #[serde(default, deserialize_with = "there")]
    d_max: Option<f64>,
    #[serde(default, deserialize_with = "there")]
    iso_range: Option<f64>,
    #[serde(default, deserialize_with = "there")]
    transfer: Option<String>,
    #[serde(default, deserialize_with = "there")]
    flare: Option<f64>,
    #[serde(default, deserialize_with = "there")]
    base_reflectance: Option<f64>,
}

/// A key that stands there has a value: `null` is none.
fn there<'de, D: Deserializer<'de>, T: Deserialize<'de>>(deserializer: D) -> Result<Option<T>, D::Error> {
    T::deserialize(deserializer).map(Some)
}

impl CurveOption {
    /// Reads the JSON; an unknown key, a wrong type or a value out of its range is told.
    pub fn read(text: &str) -> Result<Self, String> {
        if !text.trim_start().starts_with('{') {
            return Err("--curve must be a JSON object".to_owned());
        }
        let typed: Typed = serde_json::from_str(text).map_err(|error| format!("--curve: {error}"))?;
        fn within<T: TryFrom<f64>>(value: Option<f64>) -> Result<Option<T>, String>
        where
            T::Error: std::fmt::Display,
        {
            value.map(T::try_from).transpose().map_err(|error| format!("--curve: {error}"))
        }
        Ok(Self {
            d_max: within(typed.d_max)?,
            iso_range: within(typed.iso_range)?,
            transfer: typed.transfer.as_deref().map(transfer).transpose()?,
            flare: within(typed.flare)?,
            base_reflectance: within(typed.base_reflectance)?,
        })
    }

    /// The paper's curve, the usual one where nothing is given.
    pub fn paper(&self) -> PaperCurve {
        let usual = PaperCurve::default();
        let d_max = self.d_max.or_else(|| NetMaximumDensity::new(usual.d_max()).ok());
        let range = self.iso_range.or_else(|| IsoRange::new(usual.iso_range()).ok());
        d_max.zip(range).map_or(usual, |(d_max, range)| PaperCurve::new(d_max, range))
    }

    /// The curve is known when the range is: an unknown contrast is what widens an exposure error.
    pub fn known(&self) -> Known {
        if self.is_given() { Known::Given } else { Known::Assumed }
    }

    /// Whether the paper's range was given.
    pub fn is_given(&self) -> bool {
        self.iso_range.is_some()
    }
}

fn transfer(word: &str) -> Result<Transfer, String> {
    let gamma = |number: &str| number.parse().ok().and_then(|exponent| ScanGamma::new(exponent).ok());
    match word {
        "srgb" => Ok(Transfer::Srgb),
        "linear" => Ok(Transfer::Linear),
        _ => word.strip_prefix("gamma ").and_then(gamma).map(|gamma| Transfer::Gamma(gamma.as_exponent())).ok_or_else(
            || "--curve: transfer must be \"srgb\", \"linear\" or \"gamma\" with a number from 1 to 3".to_owned(),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_may_be_left_out() {
        assert_eq!(CurveOption::read("{}"), Ok(CurveOption::default()));
        let given = CurveOption::read(r#" {"d_max": 2, "iso_range": 90, "transfer": "gamma 2.2"}"#).unwrap();
        assert_eq!(given.transfer, Some(Transfer::Gamma(2.2)));
        assert_eq!((given.paper().d_max(), given.paper().iso_range()), (2.0, 90.0));
        assert!(given.is_given());
    }

    #[test]
    fn what_is_not_understood_is_told() {
        for wrong in [
            "",
            "[1.9, 110]",
            "1.9",
            "{",
            r#"{"dmax": 1.9}"#,
            r#"{"d_max": "1.9"}"#,
            r#"{"d_max": null}"#,
            r#"{"d_max": true}"#,
            r#"{"d_max": 2.7}"#,
            r#"{"d_max": 0.4}"#,
            r#"{"iso_range": 39}"#,
            r#"{"iso_range": 1e999}"#,
            r#"{"flare": 0.06}"#,
            r#"{"flare": -0.01}"#,
            r#"{"base_reflectance": 1.1}"#,
            r#"{"transfer": "gamma 3.1"}"#,
            r#"{"transfer": "sRGB"}"#,
            r#"{"transfer": "gamma"}"#,
            r#"{"d_max": 1.9, "d_max": 1.8}"#,
            r#"{} {}"#,
        ] {
            assert!(CurveOption::read(wrong).is_err(), "{wrong}");
        }
    }
}
