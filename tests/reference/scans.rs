//! Drawn scans with their truth: `shimlight scan` must find what was drawn, within the tolerances of `expected.json`.

use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::scan_rules::{complaints, in_order};

/// What the program printed about one file.
pub struct Printed {
    pub code: Option<i32>,
    pub json: Value,
    pub words: String,
}

/// Runs the program, which must print one JSON object on one line.
pub fn scan(kind: &str, file: &Path, more: &[String]) -> Printed {
    let output = Command::new(env!("CARGO_BIN_EXE_shimlight"))
        .args(["scan", kind])
        .arg(file)
        .args(more)
        .output()
        .expect("the program runs");
    let text = String::from_utf8(output.stdout).expect("text");
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(text.lines().count(), 1, "{} {more:?}: {text} {words}", file.display());
    let json = serde_json::from_str(&text).expect("JSON");
    Printed { code: output.status.code(), json, words }
}

/// Everything in which one case disagrees.
pub fn disagreements(folder: &Path, case: &Value) -> Vec<String> {
    let kind = case["kind"].as_str().unwrap_or("hole");
    let mut more = Vec::new();
    for (key, flag) in
        [("dpi", "--dpi"), ("curve", "--curve"), ("steps", "--steps"), ("stops_per_step", "--stops-per-step")]
    {
        if let Some(value) = case.get(key) {
            more.extend([flag.to_owned(), value.to_string()]);
        }
    }
    let printed = scan(kind, &folder.join(case["file"].as_str().expect("a file")), &more);
    let status = printed.json["status"].clone();
    let wanted = match &case["expected_status"] {
        Value::Array(several) => several.clone(),
        one => vec![one.clone()],
    };
    if !wanted.contains(&status) {
        return vec![format!("status {status} ({}), expected {wanted:?}", printed.json["reason"])];
    }
    let mut wrong = Vec::new();
    let refused = status == "refused";
    if printed.code != Some(i32::from(refused)) {
        wrong.push(format!("exit {:?}", printed.code));
    }
    if refused
        && let Some(Value::Array(reasons)) = case.get("expected_reason")
        && !reasons.contains(&printed.json["reason"])
    {
        wrong.push(format!("reason {}, expected one of {reasons:?}", printed.json["reason"]));
    }
    if !refused && let Some(expected) = case.get("expected_file") {
        wrong.extend(complaints("", expected, &printed.json));
    }
    if (status == "one" || status == "two" || status == "several")
        && let Some(Value::Array(expected)) =
            case.get("expected").filter(|list| list.as_array().is_some_and(|list| !list.is_empty()))
    {
        let found = in_order(expected, printed.json["found"].as_array().map_or(&[], Vec::as_slice));
        if found.len() != expected.len() {
            wrong.push(format!("{} found, expected {}", found.len(), expected.len()));
        }
        for (expected, found) in expected.iter().zip(&found) {
            wrong.extend(complaints("", expected, found));
        }
        for object in &found {
            if let (Some(error), Some(result)) =
                (object["exposure_error_stops"].as_f64(), object["result_stops"].as_f64())
            {
                assert!((error + result).abs() < 1e-9, "result_stops is not minus exposure_error_stops");
            }
        }
    }
    wrong
}

fn all_agree(folder: &str, least: usize) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(folder);
    let text = std::fs::read_to_string(folder.join("expected.json")).expect("expected.json");
    let cases: Vec<Value> = serde_json::from_str(&text).expect("a list of cases");
    assert!(cases.len() >= least, "cases went missing");
    let wrong: Vec<String> = cases
        .iter()
        .flat_map(|case| disagreements(&folder, case).into_iter().map(move |wrong| format!("{} {wrong}", case["file"])))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn drawn_holes_are_found_and_measured() {
    all_agree("scans", 12);
}

#[test]
fn drawn_negatives_and_step_strips_are_read() {
    all_agree("sheets", 20);
}

#[test]
fn the_words_for_people_name_the_way_out() {
    let hole = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/scans/11_border_2400.png");
    let printed = scan("hole", &hole, &[]);
    assert!(printed.words.contains("cut off by the picture’s edge"), "{}", printed.words);
    assert_eq!(printed.json["dpi_from"], "file");
}

#[test]
fn what_was_not_understood_is_wrong_use() {
    let strip = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/sheets/ss04_steps6_not_black_200.png");
    let strip = strip.to_str().expect("a path");
    for wrong in [
        &["scan", "steps", strip][..],
        &["scan", "steps", strip, "--steps", "6"],
        &["scan", "steps", strip, "--steps", "1", "--stops-per-step", "1"],
        &["scan", "steps", strip, "--steps", "6", "--stops-per-step", "0"],
        &["scan", "sheet", strip, "--steps", "6", "--stops-per-step", "0.5"],
        &["scan", "sheet", strip, "--curve", r#"{"dmax": 1.9}"#],
        &["scan", "sheet", strip, "--curve", r#"{"d_max": 2.7}"#],
        &["scan", "sheet", strip, "--dpi", "many"],
        &["scan", "sheet", strip, "--preview", strip],
        &["scan", "plate", strip],
        &["scan", "hole"],
    ] {
        let output = Command::new(env!("CARGO_BIN_EXE_shimlight")).args(wrong).output().expect("the program runs");
        assert_eq!(output.status.code(), Some(2), "{wrong:?}");
        assert!(output.stdout.is_empty() && !output.stderr.is_empty(), "{wrong:?}");
    }
}
