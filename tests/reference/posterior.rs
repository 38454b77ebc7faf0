//! The experience model against general linear algebra on the same numbers: `posterior.py` made
//! `posterior.jsonl` with numpy, one design matrix and nothing eliminated.

use serde_json::Value;
use shimlight::calc::{
    light::{
        experience::{Judged, JudgedSheet, Spread, Taught},
        reciprocity::Reciprocity,
    },
    quantity::{ExposureTime, ReciprocityExponent, ReciprocityThreshold, ResultStops, Seconds},
};

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("a number: {value}"))
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_else(|| panic!("a text: {value}")).to_owned()
}

fn seconds(value: &Value) -> Seconds {
    Seconds::from(ExposureTime::new(number(value)).expect("a time"))
}

fn sheet(json: &Value) -> JudgedSheet<String, String> {
    JudgedSheet {
        made: seconds(&json["made_s"]),
        base: seconds(&json["base_s"]),
        result: ResultStops::new(number(&json["result"])).expect("a result"),
        judged: if json["source"] == "scan" { Judged::ByScan } else { Judged::ByEye },
        session: text(&json["session"]),
        camera: text(&json["camera"]),
    }
}

fn taught(case: &Value) -> Taught<String, String> {
    let sheets: Vec<_> = case["sheets"].as_array().expect("sheets").iter().map(sheet).collect();
    let rule = Reciprocity::new(
        ReciprocityExponent::new(number(&case["exponent"])).expect("an exponent"),
        ReciprocityThreshold::new(number(&case["threshold_s"])).expect("a threshold"),
    );
    Taught::of(&sheets, rule, case["fit"] == true, Spread::default())
}

#[test]
fn offsets_weights_and_exponent_agree_with_numpy() {
    let mut checked = 0;
    for line in include_str!("posterior.jsonl").lines() {
        let case: Value = serde_json::from_str(line).expect("a case");
        let (id, expect, taught) = (text(&case["id"]), &case["expect"], taught(&case));
        for answer in expect["answers"].as_array().expect("answers") {
            let lesson = taught.for_camera(&text(&answer["session"]), &text(&answer["camera"]));
            let got = lesson.at(seconds(&answer["base_s"]));
            let (correction, sd) = (number(&answer["correction_stops"]), number(&answer["sd_stops"]));
            assert!((got.correction_stops - correction).abs() < 1e-6, "{id}: {got:?} not {answer}");
            assert!((got.sd_stops - sd).abs() < 1e-6, "{id}: {got:?} not {answer}");
            checked += 1;
        }
        for (place, residual) in taught.residuals().iter().enumerate() {
            let weight = number(&expect["weights"][place]);
            assert!((residual.weight - weight).abs() < 1e-6, "{id}, sheet {place}: {residual:?} not {weight}");
        }
        assert!((taught.rule().exponent().as_number() - number(&expect["exponent"])).abs() < 1e-6, "{id}");
        match taught.fitted() {
            Some(fitted) => assert!((fitted.sd - number(&expect["exponent_sd"])).abs() < 1e-6, "{id}: {fitted:?}"),
            None => assert!(expect["exponent_sd"].is_null(), "{id}"),
        }
    }
    assert_eq!(checked, 48, "cases went missing");
}

/// A check that cannot fail proves nothing.
#[test]
fn another_spread_gives_other_answers() {
    let line = include_str!("posterior.jsonl").lines().nth(3).expect("a case");
    let case: Value = serde_json::from_str(line).expect("a case");
    let sheets: Vec<_> = case["sheets"].as_array().expect("sheets").iter().map(sheet).collect();
    let other = Spread { paper: 1.1, ..Spread::default() };
    let off = Taught::of(&sheets, Reciprocity::NONE, false, other);
    let answer = &case["expect"]["answers"][0];
    let got = off.for_camera(&text(&answer["session"]), &text(&answer["camera"])).at(Seconds::from_millis(8_000));
    assert!((got.correction_stops - number(&answer["correction_stops"])).abs() > 1e-6);
}
