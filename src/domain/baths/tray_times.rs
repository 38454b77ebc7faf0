//! How long a sheet stays in each tray of a line, in the order it passes them, and how long it is washed.

use super::{
    batch::Slot,
    time_today::{TimeToday, time_today},
};
use crate::domain::stock::{paper::PaperBase, product::Times};

/// How long a sheet stays in one tray.
#[derive(Clone, Debug, PartialEq)]
pub struct InTray {
    /// Seconds; `None` where the product's card gives no time for this base.
    pub seconds: Option<f64>,
    /// How that comes about, for people.
    pub why: String,
}

/// How long a sheet stays in a tray whose batch was mixed from a product with these times, at a temperature
/// (thousandths of a degree Celsius). Where nobody said what the sheet is coated on, the longer of the two
/// papers' times counts.
pub fn in_tray(slot: Slot, times: &Times, base: PaperBase, milli_c: i64) -> InTray {
    match time_today(slot.takes(), times, base, milli_c) {
        Some(TimeToday { today_s, why, .. }) => InTray { seconds: Some(today_s), why },
        None => InTray { seconds: None, why: "its card gives no time: read the bottle, or ask".to_owned() },
    }
}

/// How long a sheet is washed, in words, and where that is from: resin-coated paper 2 to 4 minutes, fibre
/// paper an hour, or 5 minutes before and after a washing aid. Values from memory. Where nobody said what it
/// is coated on, it is washed like fibre paper: too long harms nothing.
pub fn wash(base: PaperBase, washing_aid: bool) -> (&'static str, &'static str) {
    const FROM: &str = "value from memory; a new sheet in the same water starts the time again";
    match (base, washing_aid) {
        (PaperBase::ResinCoated, _) => ("4 min", FROM),
        (_, true) => ("5 min", "before the washing aid, and 5 min after it; value from memory"),
        (_, false) => ("60 min", FROM),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times() -> Times {
        Times { rc_ms: Some(60_000), fibre_ms: Some(120_000), at_milli_c: Some(20_000), ..Times::NONE }
    }

    #[test]
    fn a_cold_developer_asks_for_longer_and_a_fixer_for_the_labels_time() {
        let cold = in_tray(Slot::Developer, &times(), PaperBase::ResinCoated, 15_000);
        // 60 s × 2.4^((20 − 15) / 10) = 93 s: the charts' factor, value from memory
        assert!((cold.seconds.expect("a time") - 93.0).abs() < 0.5, "{cold:?}");
        assert_eq!(in_tray(Slot::SecondFixer, &times(), PaperBase::ResinCoated, 15_000).seconds, Some(60.0));
    }

    #[test]
    fn nobody_said_what_it_is_coated_on_so_the_longer_time_counts() {
        assert_eq!(in_tray(Slot::StopBath, &times(), PaperBase::Unknown, 20_000).seconds, Some(120.0));
        assert_eq!(wash(PaperBase::Unknown, false), wash(PaperBase::Fibre, false));
    }

    #[test]
    fn a_card_without_a_time_makes_none_up() {
        let nothing = in_tray(Slot::Developer, &Times::NONE, PaperBase::Fibre, 20_000);
        assert_eq!(nothing.seconds, None);
        assert!(nothing.why.contains("gives no time"), "{nothing:?}");
    }
}
