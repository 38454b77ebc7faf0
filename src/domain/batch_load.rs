//! How much a batch has been through, and whether it may go on: use, watch, change.

use crate::calc::{
    darkroom::capacity::capacity_used,
    quantity::{Capacity, Litres, SquareMetres},
    working::figures,
};

use super::{batch::Batch, book::Amount};

/// From this share of any of its limits on a batch is watched. Common practice, no source.
const WATCH: f64 = 0.8;

/// What to do with a batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Advice {
    /// Go on.
    Use,
    /// Go on, and look at it: a limit comes near.
    Watch,
    /// A limit is reached: tell whoever mixes.
    Change,
}

impl Advice {
    /// The word for people, which is also the class of its tag.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Use => "use",
            Self::Watch => "watch",
            Self::Change => "change",
        }
    }
}

/// A batch's load against its limits.
#[derive(Clone, Debug, PartialEq)]
pub struct BatchLoad {
    /// What to do.
    pub advice: Advice,
    /// Share of each limit that is used up, the greatest first, with words.
    pub shares: Vec<(f64, String)>,
}

impl BatchLoad {
    /// The load of a batch: the area that went through it, what the silver book says it holds, and
    /// how long it has stood in trays. The high estimate of the silver counts. A limit that nobody
    /// entered is not counted.
    pub fn of(batch: &Batch, area_mm2: i64, holds: Amount, in_trays_ms: i64) -> Self {
        let mut shares = Vec::new();
        if let Some(capacity) = batch.capacity_mm2_per_l {
            let area = SquareMetres::new(area_mm2 as f64 / 1e6);
            let bath = Litres::new(batch.volume_ul as f64 / 1e6);
            let capacity = Capacity::new(capacity as f64 / 1e6);
            if let (Ok(area), Ok(bath), Ok(capacity)) = (area, bath, capacity) {
                let used = capacity_used(area, bath, capacity).share;
                shares.push((used, format!("{} of its capacity", percent(used))));
            }
        }
        if let Some(limit) = batch.silver_limit_ug_per_l.filter(|limit| *limit > 0 && holds.volume_ul > 0) {
            // µg per µl times a million is µg per litre
            let per_l = holds.silver.high_ug as f64 * 1e6 / holds.volume_ul as f64;
            let used = per_l / limit as f64;
            shares
                .push((used, format!("silver up to {} g/L, {} of its limit", figures(per_l / 1e6, 2), percent(used))));
        }
        if let Some(life) = batch.tray_life_ms.filter(|life| *life > 0) {
            let used = in_trays_ms as f64 / life as f64;
            let hours = in_trays_ms as f64 / 3.6e6;
            let stood =
                if hours < 1.0 { format!("{:.0} min", hours * 60.0) } else { format!("{} h", figures(hours, 2)) };
            shares.push((used, format!("{stood} in the tray, {} of its tray life", percent(used))));
        }
        shares.sort_by(|a, b| b.0.total_cmp(&a.0));
        let worst = shares.first().map_or(0.0, |(used, _)| *used);
        let advice = if worst >= 1.0 {
            Advice::Change
        } else if worst >= WATCH {
            Advice::Watch
        } else {
            Advice::Use
        };
        Self { advice, shares }
    }

    /// Why, in words: the limit that is nearest; without any limit, that nobody entered one.
    pub fn why(&self) -> String {
        match self.shares.first() {
            Some((_, words)) => words.clone(),
            None => "no limits on its card: judge it by eye".to_owned(),
        }
    }
}

fn percent(share: f64) -> String {
    if share.is_finite() { format!("{:.0} %", share * 100.0) } else { "more than all".to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        clock::World,
        domain::{batch::BatchState, book::Silver, ids::AccountId, instant::Instant, product::ProductKind},
    };

    /// One litre of fixer for two square metres, two grams of silver, eight hours.
    fn fixer() -> Batch {
        let at = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        let world = World::fixed(at);
        let account: AccountId = world.mint();
        Batch {
            id: world.mint(),
            site: world.mint(),
            label_number: 3,
            product: world.mint(),
            kind: ProductKind::Fixer,
            product_name: "Quick fixer".to_owned(),
            parts_concentrate: 1,
            parts_water: 4,
            capacity_mm2_per_l: Some(2_000_000),
            tray_life_ms: Some(8 * 3_600_000),
            silver_limit_ug_per_l: Some(2_000_000),
            volume_ul: 1_000_000,
            mixed_at: at,
            mixed_by: account.into(),
            state: BatchState::InUse,
            remark: String::new(),
            version: 1,
        }
    }

    fn holds(high_ug: i64) -> Amount {
        Amount { volume_ul: 1_000_000, silver: Silver { best_ug: high_ug / 2, low_ug: 0, high_ug } }
    }

    #[test]
    fn a_fresh_batch_is_used_a_loaded_one_watched_an_exhausted_one_changed() {
        let load = |area, silver, hours: i64| BatchLoad::of(&fixer(), area, holds(silver), hours * 3_600_000).advice;
        assert_eq!(load(100_000, 100_000, 1), Advice::Use);
        assert_eq!(load(1_700_000, 100_000, 1), Advice::Watch);
        assert_eq!(load(100_000, 1_700_000, 1), Advice::Watch);
        assert_eq!(load(2_000_000, 100_000, 1), Advice::Change);
        assert_eq!(load(100_000, 2_100_000, 1), Advice::Change);
        assert_eq!(load(100_000, 100_000, 9), Advice::Change);
    }

    #[test]
    fn the_nearest_limit_is_named_with_the_high_estimate_of_the_silver() {
        let load = BatchLoad::of(&fixer(), 200_000, holds(1_800_000), 3_600_000);
        assert_eq!(load.why(), "silver up to 1.8 g/L, 90 % of its limit");
    }

    #[test]
    fn without_limits_nothing_is_promised() {
        let bare = Batch { capacity_mm2_per_l: None, tray_life_ms: None, silver_limit_ug_per_l: None, ..fixer() };
        let load = BatchLoad::of(&bare, 9_000_000, holds(9_000_000), 90 * 3_600_000);
        assert_eq!(load.why(), "no limits on its card: judge it by eye");
    }
}
