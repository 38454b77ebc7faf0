//! What an evening needs: sheets, solutions, things to set out.

use crate::calc::{
    darkroom::dilution::{Parts, dilution},
    quantity::{CarryOver, GramsPerLitre, GramsPerSquareMetre, Litres, Millilitres, SquareMetres},
    silver::bath::{Carried, carry_over, silver_dissolved},
};

use crate::domain::{
    baths::bath_needs::{Ready, bath_need},
    stock::{paper::Paper, product::Product},
};

/// Sheets of paper for each student a plan begins with, strips and tests counted. Common practice,
/// no source.
pub const SHEETS_EACH: u32 = 4;

/// Contact prints for each student a plan begins with. Common practice, no source.
pub const PRINTS_EACH: u32 = 2;

/// How much is to be prepared for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plan {
    /// Students.
    pub students: u32,
    /// Sheets of paper for each, test pieces and prints included.
    pub sheets_each: u32,
    /// Area of one sheet.
    pub sheet: SquareMetres,
    /// Contact prints for each, on sheets of the same size.
    pub prints_each: u32,
    /// What a tray must hold to be worked in, millilitres.
    pub tray: Millilitres,
}

impl Plan {
    /// Groups of two, the last one perhaps alone.
    pub fn pairs(&self) -> u32 {
        self.students.div_ceil(2)
    }

    /// All sheets, prints among them.
    pub fn sheets(&self) -> u32 {
        self.students.saturating_mul(self.sheets_each.saturating_add(self.prints_each))
    }

    /// All sheets together.
    pub fn area_m2(&self) -> f64 {
        f64::from(self.sheets()) * self.sheet.as_m2()
    }
}

/// What to mix of a product.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mixing {
    /// The least that the sheets ask for, by whichever of the product's limits is reached first;
    /// `None` when none is entered.
    pub least_l: Option<f64>,
    /// What to mix: the greater of that and a tray, up to the next half litre, millilitres.
    pub total_ml: f64,
    /// Concentrate in it.
    pub concentrate_ml: f64,
    /// Water in it.
    pub water_ml: f64,
}

/// What to mix of a product for a plan on a paper. `None` when the plan's area or the product's
/// parts are beyond what the calculations take.
pub fn mixing(plan: &Plan, product: &Product, paper: &Paper) -> Option<Mixing> {
    let least_l = bath_need(plan.area_m2(), plan.tray.as_ml(), product, paper, Ready::default())?.least_l;
    let least_ml = least_l.map_or(0.0, |litres| litres * 1000.0).max(plan.tray.as_ml());
    let total_ml = (least_ml / 500.0 - 1e-9).ceil().max(1.0) * 500.0;
    let parts = Parts::new(product.parts_concentrate as f64, product.parts_water as f64).ok()?;
    let mixed = dilution(parts, Millilitres::new(total_ml).ok()?);
    Some(Mixing { least_l, total_ml, concentrate_ml: mixed.concentrate.as_ml(), water_ml: mixed.water.as_ml() })
}

/// What to mix for the second of two fixers: a tray, up to the next half litre. It never takes the
/// whole area, so nothing is the least.
pub fn second_mixing(plan: &Plan, product: &Product) -> Option<Mixing> {
    let total_ml = (plan.tray.as_ml() / 500.0 - 1e-9).ceil().max(1.0) * 500.0;
    let parts = Parts::new(product.parts_concentrate as f64, product.parts_water as f64).ok()?;
    let mixed = dilution(parts, Millilitres::new(total_ml).ok()?);
    Some(Mixing { least_l: None, total_ml, concentrate_ml: mixed.concentrate.as_ml(), water_ml: mixed.water.as_ml() })
}

/// What an area of sheets carries out of so many litres of fresh fixer at most: all of it at the
/// concentration that the bath reaches in the end. The carry-over is in microlitres per square metre.
pub fn carried(area_m2: f64, carry_over_ul_per_m2: i64, paper: &Paper, fixer_l: f64) -> Option<Carried> {
    let area = SquareMetres::new(area_m2).ok()?;
    let rate = CarryOver::new(carry_over_ul_per_m2 as f64 / 1000.0).ok()?;
    let delivered = GramsPerSquareMetre::new(paper.silver_ug_per_m2 as f64 / 1e6).ok()?;
    let bath = silver_dissolved(area, delivered, Litres::new(fixer_l).ok()?, GramsPerLitre::new(0.0).ok()?);
    Some(carry_over(area, rate, GramsPerLitre::new(bath.g_per_l).ok()?))
}

/// The silver that a plan's sheets leave in the fixer: best, lowest and highest estimate in grams,
/// and grams per litre of the bath by the best.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SilverExpected {
    /// Grams: lowest, best, highest.
    pub grams: [f64; 3],
    /// Grams per litre, by the best estimate.
    pub g_per_l: f64,
}

/// The silver that the sheets of a plan leave in so much fixer.
pub fn silver_expected(plan: &Plan, paper: &Paper, fixer: Litres) -> Option<SilverExpected> {
    let area = SquareMetres::new(plan.area_m2()).ok()?;
    let of = |ug_per_m2: i64| {
        let delivered = GramsPerSquareMetre::new(ug_per_m2 as f64 / 1e6).ok()?;
        Some(silver_dissolved(area, delivered, fixer, GramsPerLitre::new(0.0).ok()?))
    };
    let best = of(paper.silver_ug_per_m2)?;
    Some(SilverExpected {
        grams: [of(paper.silver_low_ug_per_m2)?.silver_g, best.silver_g, of(paper.silver_high_ug_per_m2)?.silver_g],
        g_per_l: best.g_per_l,
    })
}

/// Something to set out, with how many.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetOut {
    /// How many, or how much.
    pub count: String,
    /// Of what.
    pub what: &'static str,
}

/// What to set out for a plan. Common practice of teaching labs; no source gives the numbers.
pub fn set_out(plan: &Plan) -> Vec<SetOut> {
    let pairs = plan.pairs();
    let item = |count: u32, what| SetOut { count: count.to_string(), what };
    vec![
        item(pairs, "light-tight containers with lids, numbered"),
        item(pairs * 3, "pieces of thin metal, 25 mm square, edges dulled"),
        item(pairs, "needles, pushed into a cork board: count them out, count them back"),
        item(pairs.div_ceil(4).max(1), "micrometers"),
        item(pairs.div_ceil(6).max(1), "places to measure a hole: scanner, loupe with a scale, microscope"),
        item(pairs, "pieces of fine abrasive paper"),
        item(pairs, "shutters: card or black tape"),
        item(pairs.div_ceil(3).max(1), "rolls of black tape; matt black paint"),
        item(pairs, "timers, or people who count"),
        item(plan.students, "pairs of gloves and goggles; aprons"),
        item(8.max(pairs / 2), "tongs: two colours, wet side and dry side"),
        item(pairs.div_ceil(6).max(1), "panes of glass for contact prints, edges taped"),
        item(4, "safelights of the colour the paper asks for"),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        calc::darkroom::sheet::SheetSize,
        clock::World,
        domain::{
            instant::Instant,
            stock::{
                product::{Product, ProductKind},
                usual_stock,
            },
        },
    };

    fn plan() -> Plan {
        let sheet: SheetSize = "4x5in".parse().expect("a size");
        Plan {
            students: 24,
            sheets_each: 8,
            prints_each: 0,
            sheet: sheet.area(),
            tray: Millilitres::new(2_000.0).expect("in range"),
        }
    }

    fn fibre() -> Paper {
        let world = world();
        usual_stock::papers(world.mint(), || world.mint()).remove(1)
    }

    fn world() -> World {
        World::fixed(Instant::from_micros(1_774_029_600_000_000).expect("in range"))
    }

    /// 24 students with 8 sheets of 4 × 5 in: 192 sheets, 2.477 m² (worked by hand in this test).
    /// At 2 m² in a litre the fixer needs 1.24 L (the same).
    #[test]
    fn a_class_of_twenty_four_needs_little_more_than_a_litre_of_fixer_and_a_tray_is_more() {
        let plan = plan();
        assert_eq!((plan.pairs(), plan.sheets()), (12, 192));
        assert!((plan.area_m2() - 2.477).abs() < 0.001, "{}", plan.area_m2());
        let world = world();
        let fixer = usual_stock::products(world.mint(), || world.mint())
            .into_iter()
            .find(|product| product.kind == ProductKind::Fixer)
            .expect("stocked");
        let mixing = mixing(&plan, &fixer, &fibre()).expect("in range");
        assert!((mixing.least_l.expect("entered") - 1.24).abs() < 0.005, "{mixing:?}");
        assert_eq!((mixing.total_ml, mixing.concentrate_ml, mixing.water_ml), (2_000.0, 400.0, 1_600.0));
    }

    #[test]
    fn more_than_a_tray_is_rounded_up_to_half_litres() {
        let world = world();
        let stop = usual_stock::products(world.mint(), || world.mint())
            .into_iter()
            .find(|product| product.kind == ProductKind::StopBath)
            .expect("stocked");
        // 2.477 m² at the 1.03 m²/L of some bottle: 2.40 L, so 2.5 L at 1+19
        let stop = Product { capacity_mm2_per_l: Some(1_030_000), ..stop };
        let mixing = mixing(&plan(), &stop, &fibre()).expect("in range");
        assert_eq!((mixing.total_ml, mixing.concentrate_ml, mixing.water_ml), (2_500.0, 125.0, 2_375.0));
    }

    /// 2.48 g in 4 L are 0.62 g/L (worked by hand in this test, from the card’s 1 g/m²).
    #[test]
    fn the_silver_of_an_evening_is_its_area_times_the_cards_figure() {
        let silver = silver_expected(&plan(), &fibre(), Litres::new(4.0).expect("in range")).expect("in range");
        assert!((silver.grams[1] - 2.477).abs() < 0.005, "{silver:?}");
        assert!((silver.g_per_l - 0.62).abs() < 0.005, "{silver:?}");
        assert!(silver.grams[0] < silver.grams[1] && silver.grams[1] < silver.grams[2], "{silver:?}");
    }

    /// 2.477 m² that carry 250 mL each carry 619 mL; out of 4 L at 0.62 g/L that is
    /// 0.38 g. The carry-over is common practice, no source.
    #[test]
    fn sheets_carry_area_times_carry_over_at_the_concentration_of_the_end() {
        let carried = carried(plan().area_m2(), 250_000, &fibre(), 4.0).expect("in range");
        assert!((carried.volume.as_ml() - 619.0).abs() < 1.0, "{carried:?}");
        assert!((carried.silver_mg - 383.5).abs() < 2.0, "{carried:?}");
    }

    #[test]
    fn nobody_still_gets_a_tray_and_things_to_set_out() {
        let nobody = Plan { students: 0, ..plan() };
        assert_eq!(nobody.area_m2(), 0.0);
        assert!(set_out(&nobody).iter().all(|item| !item.count.is_empty()));
    }
}
