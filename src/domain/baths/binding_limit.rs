//! A fixer has two limits: the maker's capacity in sheets and the maker's limit for silver. Which of
//! them is reached first depends on how much silver the paper delivers.

use crate::calc::{
    darkroom::sheet::sheet_area,
    quantity::{GramsPerLitre, GramsPerSquareMetre, Litres},
    silver::bath::silver_room,
    working::figures,
};

use crate::domain::stock::{paper::Paper, product::Product};

/// Limits closer than this are called the same: a twentieth, less than any of the figures is good to.
const SAME: f64 = 0.05;

/// Which limit is reached first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Binds {
    /// The capacity in sheets.
    Capacity,
    /// The limit for silver.
    Silver,
    /// Both at the same time.
    Both,
}

/// Both limits of a fixer for a paper, as the area a litre takes until each is reached.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// By the capacity, square metres a litre.
    pub by_capacity: f64,
    /// By the silver limit and the best estimate of what the paper delivers, square metres a litre.
    pub by_silver: f64,
    /// By the silver limit and the highest estimate.
    pub by_most_silver: f64,
    /// Which one is reached first, by the best estimate.
    pub binds: Binds,
}

impl Limits {
    /// The limits of a fixer for a paper; `None` where the bottle gives only one, or the paper
    /// delivers no silver.
    pub fn of(fixer: &Product, paper: &Paper) -> Option<Self> {
        let by_capacity = fixer.capacity_for(paper.base)? as f64 / 1e6;
        let limit = GramsPerLitre::new(fixer.silver_limit_ug_per_l? as f64 / 1e6).ok()?;
        let room = |ug_per_m2: i64| {
            let delivered = GramsPerSquareMetre::new(ug_per_m2 as f64 / 1e6).ok()?;
            (ug_per_m2 > 0).then(|| Litres::new(1.0).ok().map(|litre| silver_room(limit, litre, delivered).as_m2()))?
        };
        let (by_silver, by_most_silver) = (room(paper.silver_ug_per_m2)?, room(paper.silver_high_ug_per_m2)?);
        let binds = if (by_silver / by_capacity - 1.0).abs() <= SAME {
            Binds::Both
        } else if by_silver < by_capacity {
            Binds::Silver
        } else {
            Binds::Capacity
        };
        Some(Self { by_capacity, by_silver, by_most_silver, binds })
    }

    /// For people, with both figures.
    pub fn in_words(&self) -> String {
        let area = |m2: f64| format!("{} m²/L ({} sheets of 8 × 10 in)", figures(m2, 3), eight_by_tens(m2));
        let (capacity, silver) = (area(self.by_capacity), area(self.by_silver));
        let first = match self.binds {
            Binds::Both => format!("sheet capacity and silver limit agree at {capacity}"),
            Binds::Silver => {
                format!("the silver limit binds: it is reached after {silver}, the sheet capacity says {capacity}")
            }
            Binds::Capacity => {
                format!("the sheet capacity binds: {capacity}; the silver limit would be reached after {silver}")
            }
        };
        if self.by_most_silver < self.by_capacity * (1.0 - SAME) {
            format!(
                "{first}. By the highest estimate of its silver, the silver limit is reached after {} m²/L",
                figures(self.by_most_silver, 3)
            )
        } else {
            first
        }
    }
}

fn eight_by_tens(m2: f64) -> i64 {
    let sheet = "8x10in".parse().map_or(0.051_612_8, |size| sheet_area([(size, 1)]).as_m2());
    // makers give whole tens of them: to the nearest
    (m2 / sheet).round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        clock::World,
        domain::{
            instant::Instant,
            stock::{paper::PaperBase, product::ProductKind, usual_stock},
        },
    };

    fn stock() -> (Product, Vec<Paper>) {
        let world = World::fixed(Instant::from_micros(1_774_029_600_000_000).expect("in range"));
        let fixer = usual_stock::products(world.mint(), || world.mint())
            .into_iter()
            .find(|product| product.kind == ProductKind::Fixer)
            .expect("stocked");
        (fixer, usual_stock::papers(world.mint(), || world.mint()))
    }

    /// The card's two figures for fibre paper (2 m² in a litre, 2 g/L) are the same limit at 1 g/m².
    #[test]
    fn for_fibre_paper_the_cards_two_figures_agree() {
        let (fixer, papers) = stock();
        let fibre = papers.iter().find(|paper| paper.base == PaperBase::Fibre).expect("stocked");
        let limits = Limits::of(&fixer, fibre).expect("both are given");
        assert_eq!(limits.binds, Binds::Both, "{limits:?}");
        assert!(limits.in_words().contains("(39 sheets of 8 × 10 in)"), "{}", limits.in_words());
        // coated with 1.6 g/m², all of it dissolved, it is reached sooner
        assert!(limits.in_words().contains("after 1.25 m²/L"), "{}", limits.in_words());
    }

    #[test]
    fn where_they_disagree_the_one_reached_first_is_named() {
        let (fixer, papers) = stock();
        let fibre = papers.iter().find(|paper| paper.base == PaperBase::Fibre).expect("stocked");
        // resin-coated paper that delivers as much as fibre paper, on a bottle that takes 4 m² of it in a litre: it
        // would leave 4 g/L
        let fixer = Product { rc_capacity_mm2_per_l: Some(4_000_000), ..fixer };
        let rich = Paper { base: PaperBase::ResinCoated, ..fibre.clone() };
        let limits = Limits::of(&fixer, &rich).expect("both are given");
        assert_eq!(limits.binds, Binds::Silver);
        assert!(
            limits.in_words().starts_with("the silver limit binds: it is reached after 2.00 m²/L (39 sheets"),
            "{}",
            limits.in_words()
        );
        // for prints meant to last: 10 sheets in a litre
        let careful = Product { capacity_mm2_per_l: Some(516_128), ..fixer };
        let limits = Limits::of(&careful, fibre).expect("both are given");
        assert_eq!(limits.binds, Binds::Capacity);
        assert!(limits.in_words().contains("(10 sheets of 8 × 10 in)"), "{}", limits.in_words());
    }

    #[test]
    fn with_one_limit_there_is_nothing_to_compare() {
        let (fixer, papers) = stock();
        assert_eq!(Limits::of(&Product { silver_limit_ug_per_l: None, ..fixer.clone() }, &papers[0]), None);
        assert_eq!(
            Limits::of(&Product { capacity_mm2_per_l: None, rc_capacity_mm2_per_l: None, ..fixer.clone() }, &papers[0]),
            None
        );
        assert_eq!(Limits::of(&fixer, &Paper { silver_ug_per_m2: 0, ..papers[0].clone() }), None);
    }
}
