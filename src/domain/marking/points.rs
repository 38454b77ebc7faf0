//! Points of a mark: whole thousandths, so that halves and quarters add up exactly.

use std::{fmt, iter::Sum};

use crate::domain::measure::decimal;

/// Points, in whole thousandths. Typed with at most two decimals: with three, `1,000` could be
/// read as one or as a thousand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Points(i64);

/// What was typed is no number of points, or lies outside its range.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("must be a number from {low} to {high}, with at most two decimals (4 or 3.5)")]
pub struct NotPoints {
    low: Points,
    high: Points,
}

impl Points {
    /// No points.
    pub const ZERO: Self = Self(0);
    /// The fewest a criterion may be worth: a quarter.
    pub const LEAST_FOR_A_CRITERION: Self = Self(250);
    /// The most a criterion may be worth: a thousand.
    pub const MOST_FOR_A_CRITERION: Self = Self(1_000_000);

    /// From stored thousandths.
    pub const fn from_milli(milli: i64) -> Self {
        Self(milli)
    }

    /// In thousandths, as stored.
    pub const fn as_milli(self) -> i64 {
        self.0
    }

    /// Reads what a person typed: digits, and after a point or comma one or two more.
    ///
    /// # Errors
    /// When it is no such number, or not from `low` to `high`.
    ///
    /// ```
    /// use shimlight::domain::marking::points::Points;
    /// let most = Points::from_milli(5_000);
    /// assert_eq!(Points::parse("3,5", Points::ZERO, most), Ok(Points::from_milli(3_500)));
    /// assert!(Points::parse("6", Points::ZERO, most).is_err());
    /// ```
    pub fn parse(typed: &str, low: Self, high: Self) -> Result<Self, NotPoints> {
        read(typed.trim()).filter(|points| (low..=high).contains(points)).ok_or(NotPoints { low, high })
    }

    /// This share of `whole` in per cent, rounded to one decimal, in tenths of a per cent;
    /// nothing when `whole` is zero.
    pub fn tenths_of_a_percent_of(self, whole: Self) -> Option<i64> {
        (whole.0 > 0).then(|| (self.0 * 2_000 + whole.0) / (whole.0 * 2))
    }
}

fn read(typed: &str) -> Option<Points> {
    let fraction = typed.split_once(['.', ',']).map_or("0", |(_, fraction)| fraction);
    let plain = typed.starts_with(|c: char| c.is_ascii_digit()) && (1..=2).contains(&fraction.len());
    if plain { decimal::read(typed, 3).ok().map(Points) } else { None }
}

impl fmt::Display for Points {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&decimal::written(self.0, 3))
    }
}

impl Sum for Points {
    fn sum<I: Iterator<Item = Self>>(points: I) -> Self {
        Self(points.map(|points| points.0).sum())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of_five(typed: &str) -> Result<Points, NotPoints> {
        Points::parse(typed, Points::ZERO, Points::from_milli(5_000))
    }

    #[test]
    fn halves_and_quarters_are_read_with_a_point_or_a_comma() {
        for (typed, milli) in
            [("0", 0), ("5", 5_000), (" 3.5 ", 3_500), ("2,25", 2_250), ("05", 5_000), ("5.00", 5_000)]
        {
            assert_eq!(of_five(typed), Ok(Points::from_milli(milli)), "{typed:?}");
        }
    }

    #[test]
    fn what_is_no_number_of_points_is_refused() {
        for typed in
            ["", "-1", "+1", "5.01", "1e0", "NaN", "four", "1,000", "1.", ".5", "½", "1 2", "٣", "9999999999999999999"]
        {
            assert!(of_five(typed).is_err(), "{typed:?}");
        }
        assert_eq!(
            of_five("6").expect_err("too many").to_string(),
            "must be a number from 0 to 5, with at most two decimals (4 or 3.5)"
        );
    }

    #[test]
    fn points_are_written_as_people_write_them() {
        assert_eq!(Points::from_milli(4_500).to_string(), "4.5");
        assert_eq!(Points::from_milli(10_000).to_string(), "10");
        assert_eq!(Points::from_milli(250).to_string(), "0.25");
    }

    #[test]
    fn a_share_is_rounded_to_a_tenth_of_a_per_cent() {
        let share = |milli, whole| Points::from_milli(milli).tenths_of_a_percent_of(Points::from_milli(whole));
        assert_eq!(share(14_000, 20_000), Some(700));
        assert_eq!(share(1_000, 3_000), Some(333));
        assert_eq!(share(2_000, 3_000), Some(667));
        assert_eq!(share(0, 3_000), Some(0));
        assert_eq!(share(1_000, 0), None);
    }
}
