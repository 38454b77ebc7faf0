//! Published and independently computed values against the calculation core, through the engine of
//! `shimlight calc`. Sources: `README.md` beside this file, and in each case.

mod cases;
mod coverage;
mod gauges;
mod hostile;
mod posterior;
mod scan_rules;
mod scans;
mod stock;

use cases::{Case, complaints};

fn all_good(file: &str, text: &str, expected: usize) {
    let cases: Vec<_> = text.lines().map(Case::of).collect();
    assert_eq!(cases.len(), expected, "{file}: cases went missing");
    let wrong: Vec<_> = cases.iter().flat_map(complaints).collect();
    assert!(wrong.is_empty(), "{file}:\n{}", wrong.join("\n"));
}

#[test]
fn light_paper_darkroom_silver_and_dates_agree_with_their_sources() {
    all_good("light-and-darkroom.jsonl", include_str!("light-and-darkroom.jsonl"), 65);
}

#[test]
fn experience_agrees_with_general_linear_algebra() {
    all_good("experience.jsonl", include_str!("experience.jsonl"), 6);
}

#[test]
fn optics_agrees_with_theory_and_independent_computation() {
    all_good("optics.jsonl", include_str!("optics.jsonl"), 82);
}

#[test]
fn optics_holds_to_the_ends_of_its_range_and_in_daylight() {
    all_good("optics-range.jsonl", include_str!("optics-range.jsonl"), 122);
}

#[test]
fn optics_away_from_the_axis_agrees_with_exact_path_lengths() {
    all_good("optics-oblique.jsonl", include_str!("optics-oblique.jsonl"), 63);
}

/// A check that cannot fail proves nothing.
#[test]
fn a_wrong_expectation_is_found() {
    let good = r#"{"id": "f", "quantity": "f_number", "given": {"hole_to_film_mm": 75, "hole_diameter_mm": 0.3}, "expect": {"f_number": 250}, "tolerance": {"f_number": {"rel": 1e-9}}}"#;
    assert_eq!(complaints(&Case::of(good)), Vec::<String>::new());
    for (part, wrong) in [
        ("250}", "250.1}"),
        ("\"expect\": {\"f_number\"", "\"expect\": {\"f_stop\""),
        ("0.3}", "-0.3}"),
        ("\"quantity\": \"f_number\"", "\"quantity\": \"g_number\""),
    ] {
        let changed = good.replacen(part, wrong, 1);
        assert_ne!(changed, good);
        assert!(!complaints(&Case::of(&changed)).is_empty(), "{changed}");
    }
    let exact = r#"{"id": "c", "quantity": "generator_category", "given": {"nonacute_kg_month": 100, "acute_kg_month": 0}, "expect": {"category": "SQG"}, "tolerance": {"category": "exact"}}"#;
    assert!(!complaints(&Case::of(exact)).is_empty());
}
