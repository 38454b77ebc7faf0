//! The figures on the cards of the usual stock against makers' sheets and handbooks: each lies within what two of them
//! or more span, or is known to be from memory. The sheets stand in `usual-stock.jsonl`.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;
use shimlight::{
    clock::World,
    domain::{
        instant::Instant,
        stock::{
            paper::{Paper, PaperBase},
            product::Product,
            usual_stock,
        },
    },
};

/// No two sheets were found for these; the card says so.
const FROM_MEMORY: [(&str, &str); 16] = [
    ("developer", "water_parts"),
    ("developer", "rc_s"),
    ("fixer", "rc_s"),
    ("fixer", "fibre_s"),
    ("washing aid", "water_parts"),
    ("resin-coated paper", "exposure_index"),
    ("resin-coated paper", "silver_g_per_m2"),
    ("resin-coated paper", "silver_range_g_per_m2"),
    ("resin-coated paper", "carry_over_ml_per_m2"),
    ("fibre paper", "exposure_index"),
    ("fibre paper", "silver_range_g_per_m2"),
    ("fibre paper", "carry_over_ml_per_m2"),
    ("film", "silver_g_per_m2"),
    ("film", "silver_range_g_per_m2"),
    ("film", "carry_over_ml_per_m2"),
    // the product's name, so nothing to look up
    ("film", "exposure_index"),
];

/// Follows from the fixer's card: what a square metre delivers is the silver limit over the capacity.
const WORKED_OUT: (&str, &str) = ("fibre paper", "silver_g_per_m2");

/// A card and one of its figures.
type Figure = (String, String);

/// What the sheets say of a figure.
struct Said {
    least: f64,
    most: f64,
    by: BTreeSet<String>,
}

fn usual() -> (Vec<Product>, Vec<Paper>) {
    let world = World::fixed(Instant::from_micros(1_774_029_600_000_000).unwrap());
    (usual_stock::products(world.mint(), || world.mint()), usual_stock::papers(world.mint(), || world.mint()))
}

fn figure(card: &str, name: &str) -> Figure {
    (card.to_owned(), name.to_owned())
}

fn paper_card(paper: &Paper) -> &'static str {
    match paper.base {
        PaperBase::ResinCoated => "resin-coated paper",
        PaperBase::Fibre => "fibre paper",
        PaperBase::Film => "film",
        PaperBase::Unknown => "unknown",
    }
}

/// Every figure that stands on a card; what is left empty is not there.
fn on_the_cards() -> BTreeMap<Figure, f64> {
    let (products, papers) = usual();
    let mut figures = BTreeMap::new();
    for product in &products {
        let times = &product.times;
        let given = [
            ("water_parts", Some(product.parts_water), product.parts_concentrate as f64),
            ("capacity_m2_per_l", product.capacity_mm2_per_l, 1e6),
            ("rc_capacity_m2_per_l", product.rc_capacity_mm2_per_l, 1e6),
            ("tray_life_h", product.tray_life_ms, 3_600_000.0),
            ("bottle_life_h", product.bottle_life_ms, 3_600_000.0),
            ("silver_limit_g_per_l", product.silver_limit_ug_per_l, 1e6),
            ("rc_s", times.rc_ms, 1000.0),
            ("fibre_s", times.fibre_ms, 1000.0),
            ("film_s", times.film_ms, 1000.0),
            ("at_c", times.at_milli_c, 1000.0),
        ];
        for (name, value, unit) in given {
            if let Some(value) = value {
                figures.insert(figure(product.kind.as_str(), name), value as f64 / unit);
            }
        }
    }
    for paper in &papers {
        let card = paper_card(paper);
        figures.insert(figure(card, "exposure_index"), paper.exposure_index_milli as f64 / 1000.0);
        figures.insert(figure(card, "silver_g_per_m2"), paper.silver_ug_per_m2 as f64 / 1e6);
        let range = paper.silver_high_ug_per_m2 - paper.silver_low_ug_per_m2;
        figures.insert(figure(card, "silver_range_g_per_m2"), range as f64 / 1e6);
        figures.insert(figure(card, "carry_over_ml_per_m2"), paper.carry_over_ul_per_m2 as f64 / 1000.0);
        // an exponent of one leaves reciprocity out
        if paper.reciprocity_milli > 1_000 {
            figures.insert(figure(card, "reciprocity_exponent"), paper.reciprocity_milli as f64 / 1000.0);
            figures.insert(figure(card, "reciprocity_from_s"), paper.reciprocity_threshold_ms as f64 / 1000.0);
        }
    }
    figures
}

/// What the sheets say, figure by figure.
fn said(table: &str) -> BTreeMap<Figure, Said> {
    let mut all: BTreeMap<Figure, Said> = BTreeMap::new();
    for line in table.lines() {
        let row: Value = serde_json::from_str(line).unwrap();
        let text = |name: &str| row[name].as_str().unwrap_or_else(|| panic!("{name}: {line}")).to_owned();
        let (least, most) = (row["says"][0].as_f64().unwrap(), row["says"][1].as_f64().unwrap());
        assert!(least <= most && text("source").contains(' '), "{line}");
        let said =
            all.entry((text("card"), text("figure"))).or_insert_with(|| Said { least, most, by: BTreeSet::new() });
        said.least = said.least.min(least);
        said.most = said.most.max(most);
        said.by.insert(text("by"));
    }
    all
}

fn is_from_memory(of: &Figure) -> bool {
    FROM_MEMORY.iter().any(|(card, name)| of.0 == *card && of.1 == *name)
}

/// What is wrong with the cards, by the sheets.
fn complaints(cards: &BTreeMap<Figure, f64>, said: &BTreeMap<Figure, Said>) -> Vec<String> {
    let mut wrong = Vec::new();
    for (of, value) in cards {
        match said.get(of) {
            Some(said) if said.by.len() < 2 => wrong.push(format!("{of:?} rests on {:?} alone", said.by)),
            Some(said) if *value < said.least || *value > said.most => {
                wrong.push(format!("{of:?} is {value}, the sheets say {} to {}", said.least, said.most));
            }
            Some(_) if is_from_memory(of) => wrong.push(format!("{of:?} has sheets and is called from memory")),
            Some(_) => {}
            None if is_from_memory(of) || *of == figure(WORKED_OUT.0, WORKED_OUT.1) => {}
            None => wrong.push(format!("{of:?} is {value}, and no sheet says so")),
        }
    }
    let listed = FROM_MEMORY.iter().map(|(card, name)| figure(card, name)).chain(said.keys().cloned());
    wrong.extend(listed.filter(|of| !cards.contains_key(of)).map(|of| format!("{of:?} stands on no card")));
    wrong
}

const TABLE: &str = include_str!("usual-stock.jsonl");

#[test]
fn the_usual_stock_lies_within_what_two_sheets_span_or_is_known_to_be_from_memory() {
    let wrong = complaints(&on_the_cards(), &said(TABLE));
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn the_silver_of_fibre_paper_follows_from_the_fixers_card() {
    let cards = on_the_cards();
    let of = |card, name| cards[&figure(card, name)];
    let delivered = of("fixer", "silver_limit_g_per_l") / of("fixer", "capacity_m2_per_l");
    assert!((of(WORKED_OUT.0, WORKED_OUT.1) - delivered).abs() < 1e-9, "{delivered}");
}

#[test]
fn a_card_says_from_memory_where_one_of_its_figures_is_and_nowhere_else() {
    let (products, papers) = usual();
    let has_one = |card: &str| FROM_MEMORY.iter().any(|(named, _)| *named == card);
    for product in &products {
        let card = product.kind.as_str();
        assert_eq!(product.figures_from.contains("from memory"), has_one(card), "{card}: {}", product.figures_from);
    }
    for paper in &papers {
        assert!(has_one(paper_card(paper)) && paper.remark.contains("from memory"), "{}", paper.remark);
    }
}

/// A check that cannot fail proves nothing.
#[test]
fn a_figure_outside_the_sheets_and_one_that_no_sheet_gives_are_found() {
    let good = on_the_cards();
    for (card, name, value, complaint) in [
        ("stop bath", "rc_s", 21.0, "the sheets say 5 to 20"),
        ("film", "reciprocity_exponent", 1.4, "the sheets say 1.15 to 1.33"),
        ("developer", "tray_life_h", 8.0, "no sheet says so"),
    ] {
        let mut cards = good.clone();
        cards.insert(figure(card, name), value);
        let wrong = complaints(&cards, &said(TABLE));
        assert!(wrong.len() == 1 && wrong[0].contains(complaint), "{wrong:?}");
    }
    let mut emptied = good.clone();
    emptied.remove(&figure("fixer", "tray_life_h"));
    assert_eq!(complaints(&emptied, &said(TABLE)).len(), 1);
    // one maker's sheets are one
    let lines: Vec<_> = TABLE.lines().filter(|line| !line.contains("\"by\": \"KODAK\"")).collect();
    assert_eq!(complaints(&good, &said(&lines.join("\n"))).len(), 2);
}
