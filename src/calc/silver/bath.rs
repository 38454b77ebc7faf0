//! Silver in a fixer by mass balance: area × silver delivered per area.

use crate::calc::quantity::{
    Capacity, CarryOver, DissolvedShare, GramsPerLitre, GramsPerSquareMetre, Litres, Millilitres, SquareMetres,
};
use crate::calc::silver::units::troy_ounces;
use crate::calc::working::{Working, figures, plain, scaled};

/// Silver that a square metre of fibre-based paper delivers to the fixer: a maker's two figures, 40
/// sheets of 8x10 in a litre to 2 g/L and 10 to 0.5 g/L, both give 0.969 g/m² (second hand; case o-silver-01).
pub const DELIVERED_BY_FIBRE_PAPER_G_M2: f64 = 0.968_75;
/// The least it may be: a thin coating, two thirds of it dissolved.
pub const DELIVERED_LEAST_G_M2: f64 = 0.35;
/// The most it may be: all of the greatest usual coating of paper.
pub const DELIVERED_MOST_G_M2: f64 = 1.61;

/// Silver that went into a bath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SilverDissolved {
    /// Silver these sheets delivered, in grams.
    pub silver_g: f64,
    /// Concentration of the bath afterwards; infinite in a bath of no volume.
    pub g_per_l: f64,
    /// The silver delivered, in troy ounces.
    pub troy_oz: f64,
}

/// What sheets deliver when only a share of their coating dissolves.
pub fn delivered(coating: GramsPerSquareMetre, share: DissolvedShare) -> GramsPerSquareMetre {
    GramsPerSquareMetre::computed(coating.as_g_m2() * share.as_share())
}

/// Silver that an area of sheets delivers to a bath, and the bath's concentration afterwards.
pub fn silver_dissolved(
    area: SquareMetres,
    delivered: GramsPerSquareMetre,
    bath: Litres,
    already: GramsPerLitre,
) -> SilverDissolved {
    let silver_g = area.as_m2() * delivered.as_g_m2();
    let added = if silver_g == 0.0 { 0.0 } else { silver_g / bath.as_l() };
    SilverDissolved { silver_g, g_per_l: already.as_g_per_l() + added, troy_oz: troy_ounces(silver_g) }
}

/// [`silver_dissolved`] with its working.
pub fn silver_dissolved_working(
    area: SquareMetres,
    delivered: GramsPerSquareMetre,
    bath: Litres,
    already: GramsPerLitre,
) -> Working {
    let silver = silver_dissolved(area, delivered, bath, already);
    Working {
        name: "silver in the bath",
        value: format!("{} g, {} g/L", figures(silver.silver_g, 3), figures(silver.g_per_l, 3)),
        formula: format!(
            "{} m² × {} g/m² = {} g; {} g/L + {} g / {} L = {} g/L",
            figures(area.as_m2(), 3),
            figures(delivered.as_g_m2(), 3),
            figures(silver.silver_g, 3),
            plain(already.as_g_per_l()),
            figures(silver.silver_g, 3),
            plain(bath.as_l()),
            figures(silver.g_per_l, 3)
        ),
        source: "mass balance; an estimate from area: only a laboratory result tells what is in a waste",
        interval: (delivered.as_g_m2() > 0.0).then(|| {
            let at = |g_m2| {
                let most = GramsPerSquareMetre::computed(g_m2);
                figures(silver_dissolved(area, most, bath, already).silver_g, 2)
            };
            format!(
                "{} to {} g over the usual range of papers ({DELIVERED_LEAST_G_M2} to {DELIVERED_MOST_G_M2} g/m²)",
                at(DELIVERED_LEAST_G_M2),
                at(DELIVERED_MOST_G_M2)
            )
        }),
    }
}

/// Liquid and silver that sheets carry out of a bath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Carried {
    /// Volume carried.
    pub volume: Millilitres,
    /// Silver in it, in milligrams.
    pub silver_mg: f64,
}

/// What an area of sheets carries over: area × carry-over, with its share of the bath's silver.
pub fn carry_over(area: SquareMetres, rate: CarryOver, silver: GramsPerLitre) -> Carried {
    let ml = area.as_m2() * rate.as_ml_per_m2();
    // One gram per litre is one milligram per millilitre.
    Carried { volume: Millilitres::computed(ml), silver_mg: ml * silver.as_g_per_l() }
}

/// How much more area a fresh bath takes until it reaches a limit.
pub fn silver_room(limit: GramsPerLitre, bath: Litres, delivered: GramsPerSquareMetre) -> SquareMetres {
    SquareMetres::computed(limit.as_g_per_l() * bath.as_l() / delivered.as_g_m2())
}

/// Whole sheets that fit into an area; a sheet short of fitting only by rounding counts.
pub fn whole_sheets(room: SquareMetres, sheet: SquareMetres) -> f64 {
    (room.as_m2() / sheet.as_m2() + 1e-9).floor()
}

/// Silver delivered per area that a maker's capacity and silver limit imply together.
pub fn silver_delivered_from_capacity(capacity: Capacity, limit: GramsPerLitre) -> GramsPerSquareMetre {
    GramsPerSquareMetre::computed(limit.as_g_per_l() / capacity.as_m2_per_l())
}

/// [`carry_over`] with its working.
pub fn carry_over_working(area: SquareMetres, rate: CarryOver, silver: GramsPerLitre) -> Working {
    let carried = carry_over(area, rate, silver);
    let (ml, mg) = (scaled(carried.volume.as_ml(), 3), scaled(carried.silver_mg, 3));
    Working::of(
        "carried over",
        format!("{ml} mL with {mg} mg of silver"),
        format!(
            "{} m² × {} mL/m² = {ml} mL; {ml} mL × {} g/L = {mg} mg",
            scaled(area.as_m2(), 4),
            plain(rate.as_ml_per_m2()),
            plain(silver.as_g_per_l())
        ),
        "mass balance with the carry-over as entered; what a sheet carries off is common practice, no source: measure your own",
    )
}

/// How much more area a fresh bath takes, and how many sheets of an area that is, with the working.
pub fn silver_room_working(
    limit: GramsPerLitre,
    bath: Litres,
    delivered: GramsPerSquareMetre,
    sheet: SquareMetres,
) -> Working {
    let room = silver_room(limit, bath, delivered);
    let sheets = whole_sheets(room, sheet);
    let at = |g_m2| scaled(silver_room(limit, bath, GramsPerSquareMetre::computed(g_m2)).as_m2(), 2);
    Working::of(
        "room for silver",
        format!("{} m², {sheets} sheets", scaled(room.as_m2(), 3)),
        format!(
            "limit × bath / delivered = {} g/L × {} L / {} g/m² = {room} m²; {room} m² / {} m² a sheet: {sheets} whole sheets",
            plain(limit.as_g_per_l()),
            plain(bath.as_l()),
            plain(delivered.as_g_m2()),
            scaled(sheet.as_m2(), 4),
            room = scaled(room.as_m2(), 4),
        ),
        "mass balance; an estimate from area: silver estimating paper or a laboratory tells what the bath holds",
    )
    .within(format!(
        "{} to {} m² over the usual range of papers ({DELIVERED_MOST_G_M2} to {DELIVERED_LEAST_G_M2} g/m²)",
        at(DELIVERED_MOST_G_M2),
        at(DELIVERED_LEAST_G_M2)
    ))
}

/// [`silver_delivered_from_capacity`] with its working.
pub fn silver_delivered_working(capacity: Capacity, limit: GramsPerLitre) -> Working {
    let delivered = scaled(silver_delivered_from_capacity(capacity, limit).as_g_m2(), 3);
    Working::of(
        "silver delivered per area",
        format!("{delivered} g/m²"),
        format!(
            "silver limit / capacity = {} g/L / {} m²/L = {delivered} g/m²",
            plain(limit.as_g_per_l()),
            plain(capacity.as_m2_per_l())
        ),
        "mass balance of a maker's two figures, as entered",
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::darkroom::sheet::sheet_area;

    fn quantities() -> (SquareMetres, GramsPerSquareMetre, Litres, GramsPerLitre) {
        (
            sheet_area([("4x5in".parse().unwrap(), 192)]),
            GramsPerSquareMetre::new(DELIVERED_BY_FIBRE_PAPER_G_M2).unwrap(),
            Litres::new(4.0).unwrap(),
            GramsPerLitre::new(0.0).unwrap(),
        )
    }

    #[test]
    fn a_class_of_twenty_four_leaves_two_and_a_half_grams_in_the_fixer() {
        // 24 students x 8 sheets of 4x5 in 4 L: 2.40 g, 0.60 g/L (worked by hand in this test).
        let (area, delivered, bath, already) = quantities();
        let silver = silver_dissolved(area, delivered, bath, already);
        assert!((silver.silver_g - 2.40).abs() < 0.005, "{silver:?}");
        assert!((silver.g_per_l - 0.60).abs() < 0.005, "{silver:?}");
        assert!((silver.troy_oz - 0.0772).abs() < 0.0001, "{silver:?}");
    }

    #[test]
    fn the_working_gives_the_range_found_for_papers() {
        let (area, delivered, bath, already) = quantities();
        let said = silver_dissolved_working(area, delivered, bath, already);
        assert_eq!(said.value, "2.40 g, 0.600 g/L");
        assert_eq!(said.interval.unwrap(), "0.87 to 4.0 g over the usual range of papers (0.35 to 1.61 g/m²)");
    }

    #[test]
    fn room_is_counted_in_whole_sheets() {
        let sheet = sheet_area([("8x10in".parse().unwrap(), 1)]);
        let room = silver_room(
            GramsPerLitre::new(2.0).unwrap(),
            Litres::new(1.0).unwrap(),
            GramsPerSquareMetre::new(DELIVERED_BY_FIBRE_PAPER_G_M2).unwrap(),
        );
        assert_eq!(whole_sheets(room, sheet), 40.0);
    }
}
