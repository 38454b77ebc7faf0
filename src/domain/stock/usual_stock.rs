//! What a stockroom usually holds: generic papers and products with starting figures, so that a
//! first session can be planned before every bottle has been read. Each says where its figures
//! come from; the bottle, the box and the safety data sheet stand above all of them. `tests/reference/stock.rs` holds
//! every figure against makers' sheets and handbooks; one that no two of them give is from memory and says so.

use super::{
    colours_seen::ColoursSeen,
    paper::{Paper, PaperBase, PaperKind},
    product::{Product, ProductKind, Times},
    tray::Tray,
};
use crate::domain::ids::{PaperId, ProductId, SiteId, TrayId};

/// One hour in milliseconds.
const HOUR_MS: i64 = 3_600_000;

/// Silver that fibre paper delivers to the fixer, micrograms a square metre: low, best, high. About 40 to
/// 50 sheets of 8 × 10 in per litre up to 2 g/L (the test below names who says so): 0.7 to 1 g/m², rounded up.
/// The range is that of coating weights (0.5 to 1.6 g/m²), from 65 % dissolved to all of it.
const FIBRE_SILVER: [i64; 3] = [350_000, 1_000_000, 1_600_000];
const FIBRE_SILVER_SOURCE: &str = "1 g/m²: rounded, worked out from the capacities and the silver limit typical of several makers’ \
     fixers. Range: coating weights of 0.5 to 1.6 g/m², 65 % to all of it dissolved: common practice, no source. A \
     reading with silver estimating paper is better.";

/// Resin-coated paper: half as much (value from memory); the range is as wide as for fibre paper, since
/// nothing narrows it.
const RC_SILVER: [i64; 3] = [350_000, 500_000, 1_600_000];
const RC_SILVER_SOURCE: &str = "0.5 g/m²: half of fibre paper’s, from memory, unverified. Range: coating weights of 0.5 to \
     1.6 g/m², 65 % to all of it dissolved: common practice, no source. Warnings use the highest. A reading with silver \
     estimating paper is better.";

/// The usual papers and films.
pub fn papers(site: SiteId, mut mint: impl FnMut() -> PaperId) -> Vec<Paper> {
    let mut paper = |base, [low, best, high]: [i64; 3], name: &str, carry_over_ul_per_m2, remark: &str| Paper {
        id: mint(),
        site,
        kind: PaperKind::Paper,
        base,
        sees: ColoursSeen::BlueAndGreen,
        name: name.to_owned(),
        exposure_index_milli: 6_000,
        index_from: String::new(),
        iso_speed_milli: None,
        daylight_factor_milli: 1_000,
        reciprocity_table: super::reciprocity_lines::ReciprocityLines::default(),
        reciprocity_milli: 1_000,
        reciprocity_threshold_ms: 1_000,
        silver_ug_per_m2: best,
        silver_low_ug_per_m2: low,
        silver_high_ug_per_m2: high,
        silver_source: if base == PaperBase::Fibre { FIBRE_SILVER_SOURCE } else { RC_SILVER_SOURCE }.to_owned(),
        carry_over_ul_per_m2,
        remark: remark.to_owned(),
        version: 1,
    };
    let resin = paper(
        PaperBase::ResinCoated,
        RC_SILVER,
        "Resin-coated paper",
        35_000,
        "EI 6 is a value to start from: 2 to 10 is usual in daylight (common practice, no source). No exponent is published for paper, so \
         reciprocity is left out. Carry-over 20 to 50 mL/m²: from memory, unverified. Taken to see blue and green, as \
         variable-contrast paper does; graded paper sees blue only (common practice, no source). Your own judged sheets \
         correct the exposure; check the box.",
    );
    let fibre = paper(
        PaperBase::Fibre,
        FIBRE_SILVER,
        "Fibre-based paper",
        250_000,
        "EI 6 is a value to start from: 2 to 10 is usual in daylight (common practice, no source). No exponent is published for paper, so \
         reciprocity is left out. Carry-over 200 to 300 mL/m²: from memory, unverified. Taken to see blue and green, as \
         variable-contrast paper does; graded paper sees blue only (common practice, no source). Your own judged sheets \
         correct the exposure; check the box.",
    );
    let film = Paper {
        id: mint(),
        site,
        kind: PaperKind::Film,
        base: PaperBase::Film,
        sees: ColoursSeen::All,
        name: "Film, ISO 100".to_owned(),
        exposure_index_milli: 100_000,
        index_from: String::new(),
        iso_speed_milli: None,
        daylight_factor_milli: 1_000,
        reciprocity_table: super::reciprocity_lines::ReciprocityLines::default(),
        reciprocity_milli: 1_300,
        reciprocity_threshold_ms: 1_000,
        silver_ug_per_m2: 1_600_000,
        silver_low_ug_per_m2: 800_000,
        silver_high_ug_per_m2: 3_200_000,
        silver_source:
            "Coating weights of film, 1.6 to 3.2 g/m², 50 % to all of it dissolved: common practice, no source. \
             Film sent to a laboratory leaves no silver here."
                .to_owned(),
        carry_over_ul_per_m2: 40_000,
        remark:
            "For a body cap; sent to a laboratory. Reciprocity exponent 1.3 beyond 1 s, within what several makers’ \
             sheets give: typical of slow films; look up yours. Carry-over 25 to 60 mL/m²: from memory, unverified."
                .to_owned(),
        version: 1,
    };
    vec![resin, fibre, film]
}

/// The usual products. No glacial acetic acid: a stop bath is bought dilute.
pub fn products(site: SiteId, mut mint: impl FnMut() -> ProductId) -> Vec<Product> {
    let mut product = |kind, name: &str, parts: (i64, i64)| Product::bare(mint(), site, kind, name, parts);
    let at_20 = |rc_s: Option<i64>, fibre_s: Option<i64>| Times {
        rc_ms: rc_s.map(|s| s * 1000),
        fibre_ms: fibre_s.map(|s| s * 1000),
        at_milli_c: Some(20_000),
        ..Times::NONE
    };
    // 1+9 and the minute for resin-coated paper: values from memory
    let developer = Product {
        times: at_20(Some(60), Some(120)),
        hazards:
            "Usual of its kind: irritates skin and eyes, may cause an allergic skin reaction, harmful to water life. \
             Tongs or gloves; goggles when mixing. The bottle's label and safety data sheet decide."
                .to_owned(),
        figures_from:
            "Typical of handbooks: 2 min for fibre paper at 20 °C. Typical, from memory, unverified: 1+9; 1 min for \
             resin-coated paper. Never shorter. How long it lasts in an open tray and how many sheets a litre takes \
             differ from bottle to bottle: read your bottle and enter them."
                .to_owned(),
        ..product(ProductKind::Developer, "Paper developer, liquid", (1, 9))
    };
    let stop_bath = Product {
        times: at_20(Some(15), Some(30)),
        hazards: "Usual of its kind: a weak acid that irritates eyes, skin and airways. Buy it as a dilute concentrate, \
             never as glacial acetic acid. Acid into water, never water into acid. Keep it apart from developer and fixer. \
             The bottle's label and safety data sheet decide."
            .to_owned(),
        figures_from: "Typical of makers’ sheets and handbooks, rounded: 1+19, some bottles stronger; at 20 °C 5 to 20 s for \
             resin-coated and 5 to 60 s for fibre paper, here 15 s and 30 s. It is used up when the indicator changes \
             colour; how many sheets that takes differs from bottle to bottle: read your bottle and enter it."
            .to_owned(),
        ..product(ProductKind::StopBath, "Stop bath with indicator", (1, 19))
    };
    // both times: values from memory
    let fixer = Product {
        capacity_mm2_per_l: Some(2_000_000),
        tray_life_ms: Some(7 * 24 * HOUR_MS),
        silver_limit_ug_per_l: Some(2_000_000),
        times: at_20(Some(60), Some(120)),
        hazards: "Usual of its kind: gives off a sharp smell, so put it nearest the extractor; with acid it gives off \
             sulphur dioxide. Irritates eyes and airways. Once used it holds silver and goes into the waste container. \
             The bottle's label and safety data sheet decide."
            .to_owned(),
        figures_from:
            "Typical of makers’ sheets and handbooks, rounded to the safe side: 1+4; 2 m² of fibre paper in a litre (about \
             40 sheets of 8 × 10 in) up to 2 g/L of silver; 7 days in an open tray. Typical, from memory, unverified: at \
             20 °C 30 s to 1 min for resin-coated, 1 to 2 min for fibre paper, here the longer. Classes fix 4 to 5 min to \
             be safe. For prints meant to last it takes fewer sheets, on resin-coated paper more, and how long a closed \
             bottle keeps differs from bottle to bottle: read your bottle and enter it."
                .to_owned(),
        ..product(ProductKind::Fixer, "Rapid fixer", (1, 4))
    };
    // its dilution: a value from memory
    let washing_aid = Product {
        hazards: "Usual of its kind: mild irritant. The bottle's label and safety data sheet decide.".to_owned(),
        figures_from:
            "The dilution is typical, from memory, unverified. For fibre paper only: resin-coated paper needs none. Its \
             time differs from bottle to bottle: read your bottle and enter it."
                .to_owned(),
        ..product(ProductKind::WashingAid, "Washing aid", (1, 4))
    };
    vec![developer, stop_bath, fixer, washing_aid]
}

/// The usual trays, by the sheet they are made for.
pub fn trays(site: SiteId, mut mint: impl FnMut() -> TrayId) -> Vec<Tray> {
    let source = "Common practice, no source: liquid 15 to 20 mm deep. Measure yours.";
    [("Trays for 5 × 7 in", 500_000), ("Trays for 8 × 10 in", 1_000_000), ("Trays for 11 × 14 in", 2_000_000)]
        .into_iter()
        .map(|(name, holds_ul)| Tray {
            id: mint(),
            site,
            name: name.to_owned(),
            holds_ul,
            count: 4,
            source: source.to_owned(),
            version: 1,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{clock::World, domain::instant::Instant};

    fn world() -> World {
        World::fixed(Instant::from_micros(1_774_029_600_000_000).expect("in range"))
    }

    /// A fixing bath for prints is exhausted after 40 sheets of 8 × 10 in per litre (a fixer maker's data sheet, second
    /// hand) or 53 (200 in a US gallon: NAVEDTRA 14209; another maker gives as many, value from memory), at 2 g/L of
    /// silver: the card's capacity is not above either, and the silver of its paper not below.
    #[test]
    fn the_fixer_and_the_silver_of_paper_are_on_the_safe_side_of_two_sheets() {
        let sheet_m2 = 8.0 * 10.0 * 0.0254 * 0.0254;
        let world = world();
        let fixer =
            products(world.mint(), || world.mint()).into_iter().find(|p| p.kind == ProductKind::Fixer).expect("one");
        let capacity = fixer.capacity_mm2_per_l.expect("given") as f64 / 1e6;
        let silver = FIBRE_SILVER[1] as f64 / 1e6;
        for sheets in [40.0, 53.0] {
            assert!(capacity <= sheets * sheet_m2, "{sheets}: {capacity}");
            assert!(silver >= 2.0 / (sheets * sheet_m2), "{sheets}: {silver}");
        }
        assert!(capacity > 0.95 * 40.0 * sheet_m2 && silver < 1.05 * 2.0 / (40.0 * sheet_m2), "{capacity} {silver}");
    }

    #[test]
    fn what_differs_from_bottle_to_bottle_is_left_empty() {
        let world = world();
        for product in products(world.mint(), || world.mint()) {
            assert_eq!(product.bottle_life_ms, None, "{}", product.name);
            assert_eq!(product.rc_capacity_mm2_per_l, None, "{}", product.name);
            assert_eq!(product.capacity_mm2_per_l.is_some(), product.kind == ProductKind::Fixer, "{}", product.name);
            assert_eq!(product.tray_life_ms.is_some(), product.kind == ProductKind::Fixer, "{}", product.name);
        }
    }

    #[test]
    fn every_figure_says_where_it_comes_from_and_asks_to_check_it() {
        let world = world();
        for product in products(world.mint(), || world.mint()) {
            assert!(product.figures_from.contains("read your bottle"), "{}", product.name);
            assert!(!product.hazards.is_empty(), "{}", product.name);
            assert!(!product.hazards.contains("drain"), "{}", product.name);
        }
        for paper in papers(world.mint(), || world.mint()) {
            assert!(
                !paper.silver_source.is_empty() && paper.remark.contains("from memory, unverified"),
                "{}",
                paper.name
            );
            assert!(paper.silver_low_ug_per_m2 < paper.silver_ug_per_m2, "{}", paper.name);
            assert_ne!(paper.base, PaperBase::Unknown, "{}", paper.name);
        }
        for tray in trays(world.mint(), || world.mint()) {
            assert!(tray.source.contains("no source"), "{}", tray.name);
        }
    }
}
