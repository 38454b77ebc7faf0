//! How much of a bath's capacity is used, and how much bath an amount of sheets needs.

use crate::calc::quantity::{Capacity, Litres, SquareMetres};
use crate::calc::working::{Working, plain, scaled};

/// Capacity counts as used up only beyond rounding: 40 sheets in a bath for 40 are not over.
const ROUNDING: f64 = 1e-9;

/// The use of a bath's capacity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CapacityUsed {
    /// Share of the capacity used; more than 1 when over.
    pub share: f64,
    /// Whether more went through than the bath can take.
    pub over: bool,
}

/// Share of a bath's capacity that an area of sheets uses. A bath of no volume is used up by any
/// sheet.
pub fn capacity_used(area: SquareMetres, bath: Litres, capacity: Capacity) -> CapacityUsed {
    let takes = bath.as_l() * capacity.as_m2_per_l();
    let share = match (area.as_m2(), takes) {
        (0.0, _) => 0.0,
        (_, 0.0) => f64::INFINITY,
        (area, takes) => area / takes,
    };
    CapacityUsed { share, over: share > 1.0 + ROUNDING }
}

/// The least volume of bath that can take an area of sheets.
pub fn bath_needed(area: SquareMetres, capacity: Capacity) -> Litres {
    Litres::computed(area.as_m2() / capacity.as_m2_per_l())
}

/// [`capacity_used`] with its working.
pub fn capacity_used_working(area: SquareMetres, bath: Litres, capacity: Capacity) -> Working {
    let share = scaled(capacity_used(area, bath, capacity).share, 3);
    Working::of(
        "share of the capacity used",
        share.clone(),
        format!(
            "area / (bath × capacity) = {} m² / ({} L × {} m²/L) = {share}; more than 1 is over",
            scaled(area.as_m2(), 4),
            plain(bath.as_l()),
            plain(capacity.as_m2_per_l())
        ),
        AS_GIVEN,
    )
}

/// [`bath_needed`] with its working.
pub fn bath_needed_working(area: SquareMetres, capacity: Capacity) -> Working {
    let litres = scaled(bath_needed(area, capacity).as_l(), 3);
    Working::of(
        "least bath",
        format!("{litres} L"),
        format!(
            "area / capacity = {} m² / {} m²/L = {litres} L",
            scaled(area.as_m2(), 4),
            plain(capacity.as_m2_per_l())
        ),
        AS_GIVEN,
    )
}

const AS_GIVEN: &str = "capacity as the maker gives it per litre of working solution, here as entered";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::darkroom::sheet::sheet_area;

    #[test]
    fn a_bath_for_forty_sheets_takes_forty_and_not_one_more() {
        let forty = Capacity::new(40.0 * 0.051_612_8).unwrap();
        let litre = Litres::new(1.0).unwrap();
        let used = |n| capacity_used(sheet_area([("8x10in".parse().unwrap(), n)]), litre, forty);
        assert!(!used(40).over, "{:?}", used(40));
        assert!(used(41).over);
        let needed = bath_needed(sheet_area([("8x10in".parse().unwrap(), 40)]), forty);
        assert!((needed.as_l() - 1.0).abs() < 1e-12);
    }
}
