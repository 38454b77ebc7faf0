//! One published case, and what is wrong with the answer to it.

use serde_json::Value;
use shimlight::calc::cases::answer;

/// A case as it stands in a file.
pub struct Case {
    line: String,
    json: Value,
}

impl Case {
    pub fn of(line: &str) -> Self {
        let json = serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}"));
        Self { line: line.to_owned(), json }
    }
}

/// How the answer differs from what the case expects; empty when it agrees.
pub fn complaints(case: &Case) -> Vec<String> {
    let Some(answer) = answer(case.line.as_bytes(), 1) else {
        return vec!["no answer".to_owned()];
    };
    let id = &case.json["id"];
    let Some(expected) = case.json["expect"].as_object() else {
        return vec![format!("{id}: expects nothing")];
    };
    let mut wrong = Vec::new();
    for (name, expected) in expected {
        let got = &answer.json["values"][name];
        let tolerance = &case.json["tolerance"][name];
        if !agrees(got, expected, tolerance) {
            wrong.push(format!("{id}: {name} is {got}, not {expected} within {tolerance}; {}", answer.json));
        }
    }
    wrong
}

fn agrees(got: &Value, expected: &Value, tolerance: &Value) -> bool {
    if tolerance == "exact" {
        return match (got.as_f64(), expected.as_f64()) {
            (Some(got), Some(expected)) => got == expected,
            _ => got == expected,
        };
    }
    let (Some(got), Some(expected)) = (got.as_f64(), expected.as_f64()) else {
        return false;
    };
    let part = |name: &str| tolerance[name].as_f64().unwrap_or(0.0);
    let allowed = match tolerance.as_f64() {
        Some(absolute) => absolute,
        None if tolerance.is_object() => part("abs").max(part("rel") * expected.abs()),
        None => return false,
    };
    (got - expected).abs() <= allowed
}
