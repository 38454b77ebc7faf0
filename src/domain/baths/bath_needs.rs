//! What a session's sheets ask of each bath: how often its tray is filled, with what, and what has to
//! be bought for it.

use crate::calc::{
    darkroom::dilution::{Parts, dilution},
    quantity::Millilitres,
};

use super::{
    advice::Advice,
    batch::Batch,
    binding_limit::{Binds, Limits},
    condition::{Condition, Load},
};
use crate::domain::stock::{
    paper::{Paper, PaperBase, PaperKind},
    product::{Product, ProductKind},
};

/// What stands ready of a kind: batches in use that need not be changed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Ready {
    /// How many batches.
    pub batches: u32,
    /// Their volume, millilitres.
    pub volume_ml: f64,
    /// The area they still take, square metres.
    pub area_m2: f64,
}

impl Ready {
    /// Adds a batch in use: what is left of its capacity and of its silver limit, for a paper. One
    /// that is to be changed is not counted.
    pub fn add(&mut self, batch: &Batch, load: &Load, judged: &Condition, paper: &Paper) {
        if judged.advice == Advice::Change {
            return;
        }
        let litres = load.fresh_ul as f64 / 1e6;
        let by_capacity = batch
            .capacity_for(paper.base)
            .zip(judged.used_share)
            .map(|(capacity, used)| (1.0 - used).max(0.0) * capacity as f64 / 1e6 * litres);
        let by_silver = batch.silver_limit_ug_per_l.filter(|_| paper.silver_ug_per_m2 > 0).map(|limit| {
            let room_ug = limit as f64 * load.holds.volume_ul as f64 / 1e6 - load.holds.silver.best_ug as f64;
            room_ug.max(0.0) / paper.silver_ug_per_m2 as f64
        });
        self.batches += 1;
        self.volume_ml += load.holds.volume_ul as f64 / 1000.0;
        self.area_m2 += [by_capacity, by_silver].into_iter().flatten().reduce(f64::min).unwrap_or(0.0);
    }
}

/// What one product's bath needs.
#[derive(Clone, Debug, PartialEq)]
pub struct BathNeed {
    /// The area a litre takes until the first of its limits, square metres; `None` when no limit is on
    /// its card.
    pub takes_m2_per_l: Option<f64>,
    /// Which limit that is, in words.
    pub by: &'static str,
    /// The least volume the whole area asks for, litres, whatever stands ready.
    pub least_l: Option<f64>,
    /// How many fresh fillings of the tray are mixed.
    pub fillings: u32,
    /// How often the tray's bath is changed during the session.
    pub changes: u32,
    /// One filling, millilitres: all of it, concentrate, water.
    pub filling_ml: [f64; 3],
    /// Concentrate for all of them, millilitres.
    pub concentrate_ml: f64,
    /// What has to be bought of it, millilitres; `None` when the shelf was not counted.
    pub to_buy_ml: Option<f64>,
}

/// Whether a session on this paper uses the product: no washing aid for resin-coated paper, no film
/// developer for paper, no bleach; film goes to a laboratory.
pub fn is_used(product: &Product, paper: &Paper) -> bool {
    let only_film =
        product.times.film_ms.is_some() && product.times.rc_ms.is_none() && product.times.fibre_ms.is_none();
    paper.kind == PaperKind::Paper
        && match product.kind {
            ProductKind::Developer | ProductKind::StopBath | ProductKind::Fixer => !only_film,
            ProductKind::WashingAid => paper.base != PaperBase::ResinCoated,
            ProductKind::Bleach => false,
        }
}

/// What an area of sheets asks of a product's bath, in trays that hold so much. `None` when the
/// figures are beyond what the calculations take.
pub fn bath_need(area_m2: f64, tray_ml: f64, product: &Product, paper: &Paper, ready: Ready) -> Option<BathNeed> {
    let limits = Limits::of(product, paper).filter(|_| product.kind == ProductKind::Fixer);
    let capacity = product.capacity_for(paper.base).map(|mm2| mm2 as f64 / 1e6);
    let (takes, by) = match limits {
        Some(limits) if limits.binds == Binds::Silver => (Some(limits.by_silver), "silver limit"),
        Some(limits) if limits.binds == Binds::Both => (capacity, "sheet capacity and silver limit alike"),
        _ => (capacity, if capacity.is_some() { "sheet capacity" } else { "no capacity on its card" }),
    };
    let stands = ready.batches > 0;
    let left_m2 = (area_m2 - ready.area_m2).max(0.0);
    let a_filling_takes = takes.map(|takes| takes * tray_ml / 1000.0);
    let fillings = match a_filling_takes {
        // up to rounding: forty sheets in a bath for forty need one
        Some(takes) if left_m2 > 0.0 => (left_m2 / takes - 1e-9).ceil() as u32,
        _ => 0,
    }
    .max(u32::from(!stands));
    let parts = Parts::new(product.parts_concentrate as f64, product.parts_water as f64).ok()?;
    let filling = dilution(parts, Millilitres::new(tray_ml).ok()?);
    let concentrate_ml = filling.concentrate.as_ml() * f64::from(fillings);
    Some(BathNeed {
        takes_m2_per_l: takes,
        by,
        least_l: takes.map(|takes| area_m2 / takes),
        fillings,
        changes: (fillings + u32::from(stands)).saturating_sub(1),
        filling_ml: [tray_ml, filling.concentrate.as_ml(), filling.water.as_ml()],
        concentrate_ml,
        to_buy_ml: product.on_shelf_ul.map(|on_shelf| (concentrate_ml - on_shelf as f64 / 1000.0).max(0.0)),
    })
}

/// What the second of two fixers needs, where sheets pass two: a tray of its own. When the first is
/// spent, the second takes its place and a fresh filling comes second, so it changes as often as the
/// first, and those fillings are counted there. Common practice, no source. `None` when the figures
/// are beyond what the calculations take.
pub fn second_fixer_need(tray_ml: f64, product: &Product, ready: Ready, first_changes: u32) -> Option<BathNeed> {
    let parts = Parts::new(product.parts_concentrate as f64, product.parts_water as f64).ok()?;
    let filling = dilution(parts, Millilitres::new(tray_ml).ok()?);
    let fillings = u32::from(ready.batches == 0);
    let concentrate_ml = filling.concentrate.as_ml() * f64::from(fillings);
    Some(BathNeed {
        takes_m2_per_l: None,
        by: "moves up when the first is spent; the fresh filling comes here",
        least_l: None,
        fillings,
        changes: first_changes,
        filling_ml: [tray_ml, filling.concentrate.as_ml(), filling.water.as_ml()],
        concentrate_ml,
        to_buy_ml: product.on_shelf_ul.map(|on_shelf| (concentrate_ml - on_shelf as f64 / 1000.0).max(0.0)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        clock::World,
        domain::{instant::Instant, stock::usual_stock},
    };

    /// 24 students with 8 sheets of 4 × 5 in: 2.477 m² (worked by hand in this test).
    const AREA: f64 = 2.477;

    fn stock() -> (Vec<Product>, Vec<Paper>) {
        let world = World::fixed(Instant::from_micros(1_774_029_600_000_000).expect("in range"));
        (usual_stock::products(world.mint(), || world.mint()), usual_stock::papers(world.mint(), || world.mint()))
    }

    fn of(kind: ProductKind) -> Product {
        stock().0.into_iter().find(|product| product.kind == kind).expect("stocked")
    }

    fn on(base: PaperBase) -> Paper {
        stock().1.into_iter().find(|paper| paper.base == base).expect("stocked")
    }

    /// At 2 m² in a litre the class needs 1.24 L of fixer, at 10 sheets of 8 × 10 in 4.8 L (both
    /// worked by hand in this test): with trays of a litre that is two fillings, and five.
    #[test]
    fn a_class_of_twenty_four_fills_its_fixer_tray_twice_or_five_times() {
        let (fixer, fibre) = (of(ProductKind::Fixer), on(PaperBase::Fibre));
        let need = bath_need(AREA, 1000.0, &fixer, &fibre, Ready::default()).expect("in range");
        assert!((need.least_l.expect("a capacity") - 1.24).abs() < 0.005, "{need:?}");
        assert_eq!((need.fillings, need.changes), (2, 1));
        assert_eq!(need.filling_ml, [1000.0, 200.0, 800.0]);
        let careful = Product { capacity_mm2_per_l: Some(516_128), ..fixer };
        let need = bath_need(AREA, 1000.0, &careful, &fibre, Ready::default()).expect("in range");
        assert!((need.least_l.expect("a capacity") - 4.8).abs() < 0.01, "{need:?}");
        assert_eq!((need.fillings, need.changes, need.by), (5, 4, "sheet capacity"));
    }

    /// Common practice, no source: two fixers, one tray more than one of them asks for.
    #[test]
    fn a_second_fixer_is_one_filling_more_and_changes_with_the_first() {
        let (fixer, fibre) = (of(ProductKind::Fixer), on(PaperBase::Fibre));
        let first = bath_need(AREA, 1000.0, &fixer, &fibre, Ready::default()).expect("in range");
        let second = second_fixer_need(1000.0, &fixer, Ready::default(), first.changes).expect("in range");
        assert_eq!((second.fillings, second.changes, second.filling_ml), (1, 1, [1000.0, 200.0, 800.0]));
        let ready = Ready { batches: 1, volume_ml: 1000.0, area_m2: 0.0 };
        let stands = second_fixer_need(1000.0, &fixer, ready, 0).expect("in range");
        assert_eq!((stands.fillings, stands.changes, stands.concentrate_ml), (0, 0, 0.0));
    }

    #[test]
    fn what_stands_ready_is_used_up_first() {
        let (fixer, fibre) = (of(ProductKind::Fixer), on(PaperBase::Fibre));
        let ready = |area_m2| Ready { batches: 1, volume_ml: 1000.0, area_m2 };
        let need = |ready| bath_need(AREA, 1000.0, &fixer, &fibre, ready).expect("in range");
        assert_eq!((need(ready(2.5)).fillings, need(ready(2.5)).changes), (0, 0));
        assert_eq!((need(ready(1.0)).fillings, need(ready(1.0)).changes), (1, 1));
        assert_eq!(need(ready(2.5)).concentrate_ml, 0.0);
    }

    #[test]
    fn what_is_on_the_shelf_is_not_bought_and_a_shelf_nobody_counted_promises_nothing() {
        let (fixer, fibre) = (of(ProductKind::Fixer), on(PaperBase::Fibre));
        let need = |on_shelf_ul| {
            let counted = Product { on_shelf_ul, ..fixer.clone() };
            bath_need(AREA, 1000.0, &counted, &fibre, Ready::default()).expect("in range").to_buy_ml
        };
        assert_eq!(need(None), None);
        assert_eq!(need(Some(150_000)), Some(250.0));
        assert_eq!(need(Some(5_000_000)), Some(0.0));
    }

    #[test]
    fn a_silver_limit_that_is_reached_first_decides() {
        let rich = Paper { silver_ug_per_m2: 1_000_000, ..on(PaperBase::ResinCoated) };
        let roomy = Product { rc_capacity_mm2_per_l: Some(4_000_000), ..of(ProductKind::Fixer) };
        let need = bath_need(AREA, 1000.0, &roomy, &rich, Ready::default()).expect("in range");
        assert_eq!((need.by, need.fillings), ("silver limit", 2));
    }

    #[test]
    fn resin_coated_paper_needs_no_washing_aid_and_film_no_trays() {
        let aid = of(ProductKind::WashingAid);
        assert!(!is_used(&aid, &on(PaperBase::ResinCoated)));
        assert!(is_used(&aid, &on(PaperBase::Fibre)));
        for product in stock().0 {
            assert!(!is_used(&product, &on(PaperBase::Film)), "{}", product.name);
        }
        let mut film_developer = of(ProductKind::Developer);
        film_developer.times = crate::domain::stock::product::Times {
            film_ms: Some(600_000),
            ..crate::domain::stock::product::Times::NONE
        };
        assert!(!is_used(&film_developer, &on(PaperBase::Fibre)));
    }
}
