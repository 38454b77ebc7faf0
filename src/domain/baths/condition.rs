//! A batch at one glance: use, watch or change, and why.

use crate::calc::{
    darkroom::capacity::capacity_used,
    quantity::{Capacity, Litres, SquareMetres},
    working::{figures, plain},
};

use super::{advice::Advice, batch::Batch, clearing::ClearingTimes};
use crate::domain::{
    book::{Amount, Basis},
    instant::Instant,
    stock::paper::PaperBase,
};

/// What went through a batch and what is in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Load {
    /// How many sheets.
    pub sheets: i64,
    /// Their area, square millimetres.
    pub area_mm2: i64,
    /// That of resin-coated paper among them.
    pub rc_area_mm2: i64,
    /// Working solution mixed for it, with what was topped up, microlitres: what its capacity counts on.
    pub fresh_ul: i64,
    /// What stands in it by the book.
    pub holds: Amount,
    /// What was poured away when it was retired.
    pub retired: Amount,
    /// What its silver figures rest on.
    pub basis: Basis,
    /// When it was first set into a tray.
    pub in_tray_since: Option<Instant>,
    /// The newest clearing test that stands.
    pub clearing: Option<ClearingTimes>,
}

/// A batch's condition.
#[derive(Clone, Debug, PartialEq)]
pub struct Condition {
    /// What to do.
    pub advice: Advice,
    /// Why, most pressing first; when nothing speaks against it, what it was judged by.
    pub reasons: Vec<String>,
    /// Share of its capacity used, where the product's card gives one.
    pub used_share: Option<f64>,
}

/// From this share of a limit on, it is watched. Common practice, no source.
const NEAR: f64 = 0.8;

/// Judges a batch by its capacity, its age in the tray and its silver. Warnings of silver use the
/// high estimate; that it must be changed, the best one.
pub fn condition(batch: &Batch, load: &Load, now: Instant) -> Condition {
    let used_share = used_share(batch, load);
    let mut found: Vec<(Advice, String)> = [
        used_share.map(by_capacity),
        by_age(batch, load, now),
        by_silver(batch, load),
        load.clearing.map(ClearingTimes::judged),
        (load.holds.volume_ul == 0)
            .then(|| (Advice::Change, "by the book nothing is left in it: measure it".to_owned())),
    ]
    .into_iter()
    .flatten()
    .collect();
    if found.is_empty() {
        let words = "its card has no capacity, life or silver limit to judge it by: read the bottle";
        found.push((Advice::Watch, words.to_owned()));
    }
    let advice = found.iter().map(|(advice, _)| *advice).max().unwrap_or(Advice::Use);
    let reasons = found.into_iter().filter(|(own, _)| *own == advice).map(|(_, words)| words).collect();
    Condition { advice, reasons, used_share }
}

/// Share of the capacity used: area / (m² a litre × litres mixed), resin-coated paper by its own
/// capacity where the bottle gives one. `None` without a capacity.
pub fn used_share(batch: &Batch, load: &Load) -> Option<f64> {
    let bath = Litres::new(load.fresh_ul as f64 / 1e6).ok()?;
    let share_of = |area_mm2: i64, capacity: Option<i64>| {
        if area_mm2 == 0 {
            return Some(0.0);
        }
        let capacity = Capacity::new(capacity? as f64 / 1e6).ok()?;
        Some(capacity_used(SquareMetres::new(area_mm2 as f64 / 1e6).ok()?, bath, capacity).share)
    };
    batch.capacity_mm2_per_l.or(batch.rc_capacity_mm2_per_l)?;
    let resin = share_of(load.rc_area_mm2, batch.capacity_for(PaperBase::ResinCoated))?;
    let other = share_of(load.area_mm2 - load.rc_area_mm2, batch.capacity_for(PaperBase::Fibre))?;
    Some(resin + other).filter(|share| share.is_finite())
}

fn by_capacity(share: f64) -> (Advice, String) {
    let words = format!("{} % of its capacity used", (share * 100.0).round());
    // a sheet past forty of forty is past; rounding is not
    let advice = match share {
        share if share > 1.0 + 1e-9 => Advice::Change,
        share if share >= NEAR => Advice::Watch,
        _ => Advice::Use,
    };
    (advice, words)
}

/// The shorter of what is left of its life: in the tray since it was first set into one, in a closed
/// bottle since it was mixed.
fn by_age(batch: &Batch, load: &Load, now: Instant) -> Option<(Advice, String)> {
    let since = |begun: Instant| now.micros_since(begun).max(0) as f64 / 1000.0;
    let in_tray = batch.tray_life_ms.zip(load.in_tray_since).map(|(life, begun)| {
        let age = since(begun);
        (age / life as f64, format!("{} since it was set into a tray, of {}", span(age), span(life as f64)))
    });
    let mixed = batch.bottle_life_ms.map(|life| {
        let age = since(batch.mixed_at);
        (age / life as f64, format!("{} since it was mixed, of {} in a closed bottle", span(age), span(life as f64)))
    });
    let (share, words) = [in_tray, mixed].into_iter().flatten().max_by(|a, b| a.0.total_cmp(&b.0))?;
    let advice = match share {
        share if share > 1.0 => Advice::Change,
        share if share >= NEAR => Advice::Watch,
        _ => Advice::Use,
    };
    Some((advice, words))
}

fn by_silver(batch: &Batch, load: &Load) -> Option<(Advice, String)> {
    let limit = batch.silver_limit_ug_per_l? as f64;
    let silver = load.holds.ug_per_l()?;
    let (best, most) = (silver.best_ug as f64, silver.high_ug as f64);
    let g = |ug: f64| figures(ug / 1e6, 2);
    let of = plain(limit / 1e6);
    Some(if best > limit {
        (Advice::Change, format!("{} g/L of silver, past the maker’s limit of {of} g/L", g(best)))
    } else if most > limit {
        let words = "g/L of silver by the high estimate, past the maker’s limit of";
        (Advice::Watch, format!("{} {words} {of} g/L: read it to be sure", g(most)))
    } else if best >= NEAR * limit {
        (Advice::Watch, format!("{} g/L of silver, near the maker’s limit of {of} g/L", g(best)))
    } else {
        (Advice::Use, format!("{} g/L of silver, of {of} g/L", g(best)))
    })
}

/// A span in milliseconds as one says it of a tray: `5 h`, `3 days`.
pub fn span(ms: f64) -> String {
    let hours = ms / 3_600_000.0;
    if hours < 1.0 {
        format!("{} min", (hours * 60.0).round())
    } else if hours < 72.0 {
        format!("{} h", hours.round())
    } else {
        let days = hours / 24.0;
        // past ten days nobody counts tenths
        format!("{} days", if days < 10.0 { plain((days * 10.0).round() / 10.0) } else { plain(days.round()) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        baths::batch::BatchState,
        book::Silver,
        ids::{BatchId, Id, PersonId, ProductId, SiteId},
        stock::product::ProductKind,
    };
    use uuid::Uuid;

    fn at(hours: i64) -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range").plus_minutes(hours * 60)
    }

    /// Two litres of a fixer for 40 sheets of 8x10 a litre to 2 g/L, seven days in the tray.
    fn fixer() -> Batch {
        Batch {
            id: BatchId::from_uuid(Uuid::nil()),
            site: SiteId::from_uuid(Uuid::nil()),
            label_number: 3,
            product: ProductId::from_uuid(Uuid::nil()),
            kind: ProductKind::Fixer,
            product_name: "Rapid fixer".to_owned(),
            parts_concentrate: 1,
            parts_water: 4,
            capacity_mm2_per_l: Some(2_064_512),
            rc_capacity_mm2_per_l: None,
            bottle_life_ms: None,
            tray_life_ms: Some(7 * 24 * 3_600_000),
            silver_limit_ug_per_l: Some(2_000_000),
            volume_ul: 2_000_000,
            mixed_at: at(0),
            mixed_by: PersonId::from_uuid(Uuid::nil()),
            state: BatchState::InUse,
            remark: String::new(),
            version: 1,
        }
    }

    fn load(sheets: i64, silver: Silver) -> Load {
        Load {
            sheets,
            area_mm2: sheets * 12_903,
            rc_area_mm2: 0,
            clearing: None,
            fresh_ul: 2_000_000,
            holds: Amount { volume_ul: 2_000_000, silver },
            retired: Amount::NOTHING,
            basis: Basis::Area,
            in_tray_since: Some(at(0)),
        }
    }

    #[test]
    fn forty_eight_sheets_of_four_by_five_use_fifteen_per_cent_of_two_litres() {
        // case o-capacity-02 of tests/reference, within the rounding of a sheet to the square millimetre
        let fresh = condition(&fixer(), &load(48, Silver::exactly(600_000)), at(5));
        assert!((fresh.used_share.expect("a capacity") - 0.15).abs() < 1e-4, "{fresh:?}");
        assert_eq!(fresh.advice, Advice::Use);
        assert_eq!(fresh.reasons[0], "15 % of its capacity used");
    }

    #[test]
    fn the_high_estimate_warns_and_the_best_one_decides() {
        let silver = |best_ug, high_ug| Silver { best_ug, low_ug: 0, high_ug };
        let doubtful = condition(&fixer(), &load(10, silver(2_600_000, 4_200_000)), at(5));
        assert_eq!(doubtful.advice, Advice::Watch);
        assert!(doubtful.reasons[0].contains("read it to be sure"), "{doubtful:?}");
        let past = condition(&fixer(), &load(10, silver(4_100_000, 4_200_000)), at(5));
        assert_eq!(past.advice, Advice::Change);
        assert!(past.reasons[0].starts_with("2.1 g/L of silver, past"), "{past:?}");
    }

    #[test]
    fn age_counts_from_the_first_tray_and_a_bottle_is_not_judged_by_it() {
        let none = Silver::NONE;
        assert_eq!(condition(&fixer(), &load(0, none), at(6 * 24)).advice, Advice::Watch);
        assert_eq!(condition(&fixer(), &load(0, none), at(8 * 24)).advice, Advice::Change);
        let bottled = Load { in_tray_since: None, ..load(0, none) };
        assert_eq!(condition(&fixer(), &bottled, at(8 * 24)).advice, Advice::Use);
    }

    #[test]
    fn without_figures_nothing_is_promised() {
        let bare = Batch { capacity_mm2_per_l: None, tray_life_ms: None, silver_limit_ug_per_l: None, ..fixer() };
        let said = condition(&bare, &load(0, Silver::NONE), at(1));
        assert_eq!((said.advice, said.used_share), (Advice::Watch, None));
        assert!(said.reasons[0].contains("read the bottle"));
    }

    #[test]
    fn resin_coated_paper_counts_by_its_own_capacity() {
        // 40 sheets of fibre paper or 80 of resin-coated in a litre
        let both = Batch { rc_capacity_mm2_per_l: Some(4_129_024), ..fixer() };
        let mixed = |rc_area_mm2| Load { rc_area_mm2, ..load(80, Silver::NONE) };
        let share = |batch: &Batch, rc| used_share(batch, &mixed(rc)).expect("a capacity");
        assert!((share(&both, 0) - 0.25).abs() < 1e-4);
        assert!((share(&both, 80 * 12_903) - 0.125).abs() < 1e-4);
        assert!((share(&fixer(), 80 * 12_903) - 0.25).abs() < 1e-4, "without one of its own it counts like the rest");
    }

    #[test]
    fn a_bottle_ages_from_its_mixing_and_a_clearing_test_is_heard() {
        let kept = Batch { bottle_life_ms: Some(30 * 24 * 3_600_000), ..fixer() };
        let bottled = Load { in_tray_since: None, ..load(0, Silver::NONE) };
        assert_eq!(condition(&kept, &bottled, at(10 * 24)).advice, Advice::Use);
        let old = condition(&kept, &bottled, at(31 * 24));
        assert_eq!(old.advice, Advice::Change);
        assert!(old.reasons[0].contains("since it was mixed"), "{old:?}");
        let slow = Load { clearing: Some(ClearingTimes { fresh_ms: 30_000, now_ms: 65_000 }), ..load(1, Silver::NONE) };
        let said = condition(&fixer(), &slow, at(1));
        assert_eq!(said.advice, Advice::Change);
        assert!(said.reasons[0].starts_with("film clears in 1 min 5 s"), "{said:?}");
    }
}
