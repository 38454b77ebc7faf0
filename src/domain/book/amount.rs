//! Amounts of liquid and of the silver in it, in whole microlitres and micrograms, so that sums
//! are exact.

use std::ops::{Add, AddAssign, Neg, Sub, SubAssign};

/// Silver in micrograms: the best estimate with a low and a high one beside it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Silver {
    /// Best estimate.
    pub best_ug: i64,
    /// Low estimate.
    pub low_ug: i64,
    /// High estimate.
    pub high_ug: i64,
}

/// A volume and the silver in it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Amount {
    /// Volume in microlitres.
    pub volume_ul: i64,
    /// Silver in it.
    pub silver: Silver,
}

impl Silver {
    /// None.
    pub const NONE: Self = Self { best_ug: 0, low_ug: 0, high_ug: 0 };

    /// The same best, low and high: weighed, not estimated.
    pub fn exactly(ug: i64) -> Self {
        Self { best_ug: ug, low_ug: ug, high_ug: ug }
    }

    /// Whether there is none, by any of the three.
    pub fn is_none(self) -> bool {
        self == Self::NONE
    }

    /// Each of the three through a function.
    #[must_use]
    pub fn map(self, f: impl Fn(i64) -> i64) -> Self {
        Self { best_ug: f(self.best_ug), low_ug: f(self.low_ug), high_ug: f(self.high_ug) }
    }

    /// The least of the three. A reversal can leave the estimates out of order, because each is
    /// carried through the book on its own; what is shown is always a range.
    pub fn least_ug(self) -> i64 {
        self.best_ug.min(self.low_ug).min(self.high_ug)
    }

    /// The greatest of the three: the one that warnings use.
    pub fn most_ug(self) -> i64 {
        self.best_ug.max(self.low_ug).max(self.high_ug)
    }

    /// Of each of the three the smaller.
    #[must_use]
    pub fn least(self, other: Self) -> Self {
        Self {
            best_ug: self.best_ug.min(other.best_ug),
            low_ug: self.low_ug.min(other.low_ug),
            high_ug: self.high_ug.min(other.high_ug),
        }
    }

    /// What lies above zero, each for itself.
    #[must_use]
    pub fn above_zero(self) -> Self {
        self.map(|ug| ug.max(0))
    }
}

impl Amount {
    /// Nothing.
    pub const NOTHING: Self = Self { volume_ul: 0, silver: Silver::NONE };

    /// Liquid without silver.
    pub fn volume(volume_ul: i64) -> Self {
        Self { volume_ul, silver: Silver::NONE }
    }

    /// Silver without liquid.
    pub fn silver(silver: Silver) -> Self {
        Self { volume_ul: 0, silver }
    }

    /// Whether there is neither liquid nor silver.
    pub fn is_nothing(self) -> bool {
        self == Self::NOTHING
    }

    /// The four figures, with their names.
    pub fn figures(self) -> [(i64, &'static str); 4] {
        [
            (self.volume_ul, "volume"),
            (self.silver.best_ug, "silver"),
            (self.silver.low_ug, "silver (low estimate)"),
            (self.silver.high_ug, "silver (high estimate)"),
        ]
    }

    /// The name of the first of the four figures that is below zero.
    pub fn below_zero(self) -> Option<&'static str> {
        self.figures().into_iter().find_map(|(figure, name)| (figure < 0).then_some(name))
    }

    /// Of each of the four figures the smaller.
    #[must_use]
    pub fn least(self, other: Self) -> Self {
        Self { volume_ul: self.volume_ul.min(other.volume_ul), silver: self.silver.least(other.silver) }
    }

    /// A part of so many microlitres with its share of the silver: in proportion, rounded to the
    /// microgram; the part that is the whole takes all that remains. `None` when there is less.
    pub fn part(self, volume_ul: i64) -> Option<Self> {
        if !(0..=self.volume_ul).contains(&volume_ul) {
            return None;
        }
        if volume_ul == self.volume_ul {
            return Some(self);
        }
        Some(Self { volume_ul, silver: self.silver.map(|ug| share(ug, volume_ul, self.volume_ul)) })
    }

    /// Concentrations in micrograms a litre (best, low, high as a range); `None` without liquid.
    pub fn ug_per_l(self) -> Option<Silver> {
        (self.volume_ul > 0).then(|| {
            let per_litre = |ug| share(ug, 1_000_000, self.volume_ul);
            Silver {
                best_ug: per_litre(self.silver.best_ug),
                low_ug: per_litre(self.silver.least_ug()),
                high_ug: per_litre(self.silver.most_ug()),
            }
        })
    }
}

/// `figure × part / whole`, rounded to the nearest (half away from zero). `whole` is more than zero.
///
/// ```
/// use shimlight::domain::book::share;
/// assert_eq!(share(10, 1, 4), 3);
/// assert_eq!(share(970_000, 12_903, 1_000_000), 12_516);
/// ```
pub fn share(figure: i64, part: i64, whole: i64) -> i64 {
    let (top, whole) = (i128::from(figure) * i128::from(part), i128::from(whole));
    let rounded = (2 * top + top.signum() * whole) / (2 * whole);
    i64::try_from(rounded).unwrap_or(if rounded < 0 { i64::MIN } else { i64::MAX })
}

impl Add for Silver {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self {
            best_ug: self.best_ug.saturating_add(other.best_ug),
            low_ug: self.low_ug.saturating_add(other.low_ug),
            high_ug: self.high_ug.saturating_add(other.high_ug),
        }
    }
}

impl Neg for Silver {
    type Output = Self;
    fn neg(self) -> Self {
        self.map(i64::saturating_neg)
    }
}

impl Sub for Silver {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Add for Amount {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { volume_ul: self.volume_ul.saturating_add(other.volume_ul), silver: self.silver + other.silver }
    }
}

impl Sub for Amount {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { volume_ul: self.volume_ul.saturating_sub(other.volume_ul), silver: self.silver - other.silver }
    }
}

impl AddAssign for Amount {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl SubAssign for Amount {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_quarter_poured_out_takes_a_quarter_of_the_silver() {
        let bath = Amount { volume_ul: 4_000_000, silver: Silver { best_ug: 2_403_001, low_ug: 3, high_ug: 5 } };
        let part = bath.part(1_000_000).expect("there is a litre");
        assert_eq!(part.silver, Silver { best_ug: 600_750, low_ug: 1, high_ug: 1 });
        assert_eq!(bath.part(4_000_001), None);
        assert_eq!(bath.part(-1), None);
    }

    #[test]
    fn the_pour_that_empties_takes_all_that_remains_even_from_a_dry_tray() {
        let dry = Amount { volume_ul: 0, silver: Silver::exactly(7) };
        assert_eq!(dry.part(0), Some(dry));
        assert_eq!(dry.ug_per_l(), None);
    }

    #[test]
    fn shares_round_to_the_nearest() {
        for (figure, part, whole, expected) in [(1, 1, 3, 0), (2, 1, 3, 1), (5, 1, 2, 3), (0, 9, 7, 0), (-5, 1, 2, -3)]
        {
            assert_eq!(share(figure, part, whole), expected, "{figure} x {part} / {whole}");
        }
        assert_eq!(share(i64::MAX, 3, 3), i64::MAX);
    }

    proptest! {
        #[test]
        fn a_part_and_the_rest_are_the_whole_and_keep_the_estimates_in_order(
            volume in 1..=200_000_000i64, low in 0..=9_000_000i64, to_best in 0..=9_000_000i64,
            to_high in 0..=9_000_000i64, of_a_million in 0..=1_000_000i64,
        ) {
            let silver = Silver { low_ug: low, best_ug: low + to_best, high_ug: low + to_best + to_high };
            let bath = Amount { volume_ul: volume, silver };
            let part = bath.part(share(volume, of_a_million, 1_000_000)).expect("a part");
            let rest = bath - part;
            prop_assert_eq!(part + rest, bath);
            prop_assert!(part.below_zero().is_none() && rest.below_zero().is_none(), "{:?} {:?}", part, rest);
            for s in [part.silver, rest.silver] {
                prop_assert!(s.low_ug <= s.best_ug && s.best_ug <= s.high_ug, "{:?}", s);
            }
        }
    }
}
