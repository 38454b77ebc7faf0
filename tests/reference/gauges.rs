//! The tables of wires, drills and needles against the published ones.

use serde_json::Value;
use shimlight::calc::optics::gauges;

fn table(name: &str) -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("gauges.json")).unwrap();
    all[name].as_array().unwrap().clone()
}

fn number(row: &Value, name: &str) -> u32 {
    u32::try_from(row[name].as_u64().unwrap()).unwrap()
}

#[track_caller]
fn near(got: f64, expected: &Value, within: f64) {
    let expected = expected.as_f64().unwrap();
    assert!((got - expected).abs() <= within, "{got} is not {expected}");
}

/// ASTM B258, printed to six decimals.
#[test]
fn wires_have_the_diameters_of_the_standard() {
    for row in table("awg") {
        near(gauges::wire_gauge_mm(number(&row, "awg")), &row["d_mm"], 1e-6);
    }
}

/// ASME B94.11M by a public-domain table.
#[test]
fn number_drills_have_the_diameters_of_the_table() {
    let rows = table("number_drills");
    assert_eq!(rows.len(), 37);
    for row in rows {
        near(gauges::number_drill_mm(number(&row, "number")).unwrap(), &row["d_mm"], 1e-9);
    }
}

/// DIN 5325.
#[test]
fn machine_needles_are_hundredths_of_a_millimetre() {
    for row in table("sewing_nm") {
        near(gauges::machine_needle_mm(row["nm"].as_f64().unwrap()), &row["d_mm"], 1e-9);
    }
}

/// A public chart of needle tubing.
#[test]
fn tubes_have_the_nominal_diameters_of_the_chart() {
    for row in table("needle_nominal") {
        near(gauges::tube_gauge_mm(number(&row, "gauge")).unwrap(), &row["od_mm"], 1e-9);
    }
}
