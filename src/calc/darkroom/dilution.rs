//! Dilution in parts, as on a bottle ("1+9": one part of concentrate and nine of water), and of a
//! stock solution by its percentage.

use std::fmt;
use std::str::FromStr;

use crate::calc::quantity::{Millilitres, Percent};
use crate::calc::working::{Working, plain, scaled};

/// Parts of concentrate and of water.
///
/// ```
/// use shimlight::calc::darkroom::dilution::Parts;
/// assert_eq!("1 + 9".parse::<Parts>().unwrap().to_string(), "1+9");
/// assert!("1:9".parse::<Parts>().is_err());
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parts {
    concentrate: f64,
    water: f64,
}

/// Text that is not a dilution in parts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("parts must be two numbers joined by +, from 0.01+0 to 1000+1000, such as 1+9")]
pub struct NotParts;

impl Parts {
    /// Parts of concentrate (0.01 to 1000) and of water (0 to 1000).
    ///
    /// # Errors
    /// [`NotParts`] outside these ranges.
    pub fn new(concentrate: f64, water: f64) -> Result<Self, NotParts> {
        if (0.01..=1000.0).contains(&concentrate) && (0.0..=1000.0).contains(&water) {
            Ok(Self { concentrate, water })
        } else {
            Err(NotParts)
        }
    }

    fn sum(self) -> f64 {
        self.concentrate + self.water
    }
}

impl FromStr for Parts {
    type Err = NotParts;

    fn from_str(text: &str) -> Result<Self, NotParts> {
        let (concentrate, water) = text.split_once('+').ok_or(NotParts)?;
        let number = |part: &str| {
            let part = part.trim();
            let plain = !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit() || b == b'.');
            if plain { part.parse().map_err(|_| NotParts) } else { Err(NotParts) }
        };
        Self::new(number(concentrate)?, number(water)?)
    }
}

impl fmt::Display for Parts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}+{}", plain(self.concentrate), plain(self.water))
    }
}

/// What to pour together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dilution {
    /// Concentrate, or stock solution.
    pub concentrate: Millilitres,
    /// Water.
    pub water: Millilitres,
    /// Both together.
    pub total: Millilitres,
}

/// What makes a total volume of working solution.
pub fn dilution(parts: Parts, total: Millilitres) -> Dilution {
    let total_ml = total.as_ml();
    let concentrate = total_ml * parts.concentrate / parts.sum();
    Dilution {
        concentrate: Millilitres::computed(concentrate),
        water: Millilitres::computed(total_ml * parts.water / parts.sum()),
        total,
    }
}

/// What an amount of concentrate makes. The total may exceed the range of [`Millilitres`]; it is
/// then refused when it is next typed in, not here.
pub fn dilution_of_concentrate(parts: Parts, concentrate: Millilitres) -> Dilution {
    let water = concentrate.as_ml() * parts.water / parts.concentrate;
    Dilution {
        concentrate,
        water: Millilitres::computed(water),
        total: Millilitres::computed(concentrate.as_ml() + water),
    }
}

/// The target is stronger than the stock.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("target must be weaker than the stock, from 0 to {stock_percent} %")]
pub struct StrongerThanStock {
    /// What the stock has.
    pub stock_percent: f64,
}

/// Stock solution and water for a total volume: `C1 V1 = C2 V2`.
///
/// # Errors
/// [`StrongerThanStock`] when water cannot do it.
pub fn stock_dilution(stock: Percent, target: Percent, total: Millilitres) -> Result<Dilution, StrongerThanStock> {
    if target > stock || stock.as_percent() == 0.0 {
        return Err(StrongerThanStock { stock_percent: stock.as_percent() });
    }
    let share = target.as_percent() / stock.as_percent();
    Ok(Dilution {
        concentrate: Millilitres::computed(total.as_ml() * share),
        water: Millilitres::computed(total.as_ml() * (1.0 - share)),
        total,
    })
}

/// [`dilution`] with its working.
pub fn dilution_working(parts: Parts, total: Millilitres) -> Working {
    let mixed = dilution(parts, total);
    let ml = |volume: Millilitres| plain((volume.as_ml() * 10.0).round() / 10.0);
    Working {
        name: "what to mix",
        value: format!("{} mL concentrate and {} mL water", ml(mixed.concentrate), ml(mixed.water)),
        formula: format!(
            "concentrate = total × {c} / ({c} + {w}) = {t} mL × {c} / {sum} = {} mL; water = {t} mL × {w} / {sum} = {} mL",
            ml(mixed.concentrate),
            ml(mixed.water),
            c = plain(parts.concentrate),
            w = plain(parts.water),
            sum = plain(parts.sum()),
            t = ml(total),
        ),
        source: "parts as on the bottle: 1+9 is one part of concentrate and nine of water",
        interval: None,
    }
}

/// [`stock_dilution`] with its working.
///
/// # Errors
/// [`StrongerThanStock`] when water cannot do it.
pub fn stock_dilution_working(
    stock: Percent,
    target: Percent,
    total: Millilitres,
) -> Result<Working, StrongerThanStock> {
    let mixed = stock_dilution(stock, target, total)?;
    let ml = |volume: Millilitres| scaled(volume.as_ml(), 4);
    Ok(Working::of(
        "what to mix",
        format!("{} mL stock and {} mL water", ml(mixed.concentrate), ml(mixed.water)),
        format!(
            "V1 = C2 V2 / C1 = {} % × {t} mL / {} % = {v} mL; water = {t} − {v} = {} mL",
            plain(target.as_percent()),
            plain(stock.as_percent()),
            ml(mixed.water),
            t = plain(total.as_ml()),
            v = ml(mixed.concentrate),
        ),
        "mass balance: what the stock brings is what the working solution holds",
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_ratio_with_a_colon_is_refused_because_it_is_read_in_two_ways() {
        for bad in ["1:9", "", "+", "1+", "+9", "0+9", "1+-9", "1+inf", "1e3+1", "1+9+1", "1+1001"] {
            assert_eq!(bad.parse::<Parts>(), Err(NotParts), "{bad}");
        }
    }

    #[test]
    fn a_stock_weaker_than_wanted_is_refused() {
        let percent = |p| Percent::new(p).unwrap();
        let refused = stock_dilution(percent(5.0), percent(28.0), Millilitres::new(1000.0).unwrap());
        assert_eq!(refused.unwrap_err().to_string(), "target must be weaker than the stock, from 0 to 5 %");
    }

    proptest! {
        #[test]
        fn nothing_is_lost_in_the_mixing(
            c in 0.01..=1000.0f64, w in 0.0..=1000.0f64, total in 0.1..=1e6f64,
        ) {
            let parts = Parts::new(c, w).unwrap();
            let mixed = dilution(parts, Millilitres::new(total).unwrap());
            let sum = mixed.concentrate.as_ml() + mixed.water.as_ml();
            prop_assert!((sum / total - 1.0).abs() < 1e-12);
            let back = dilution_of_concentrate(parts, mixed.concentrate);
            prop_assert!((back.total.as_ml() / total - 1.0).abs() < 1e-9);
        }
    }
}
