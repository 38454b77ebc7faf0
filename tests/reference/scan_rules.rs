//! The rules of `expected.json`: a value within a tolerance, a word, a list that holds or does not hold something.

use serde_json::Value;

const RULES: [&str; 9] = ["value", "equals", "any_of", "includes", "excludes", "null", "min", "max", "grid"];

/// Everything in which what was printed disagrees with a tree of rules. More fields than named are fine.
pub fn complaints(path: &str, expected: &Value, got: &Value) -> Vec<String> {
    match expected {
        Value::Object(rule) if RULES.iter().any(|name| rule.contains_key(*name)) => {
            let key = path.rsplit('.').next().unwrap_or_default();
            holds(key, expected, got).err().map(|wrong| format!("{path}: {wrong}")).into_iter().collect()
        }
        Value::Object(fields) => fields
            .iter()
            .flat_map(|(name, rule)| match got.get(name) {
                Some(value) => complaints(&format!("{path}.{name}"), rule, value),
                None => vec![format!("{path}.{name}: missing")],
            })
            .collect(),
        Value::Array(list) => match got.as_array() {
            Some(values) if values.len() == list.len() => list
                .iter()
                .zip(values)
                .enumerate()
                .flat_map(|(at, (rule, value))| complaints(&format!("{path}[{at}]"), rule, value))
                .collect(),
            _ => vec![format!("{path}: not {} of them", list.len())],
        },
        _ if expected == got => Vec::new(),
        _ => vec![format!("{path}: {got}, expected {expected}")],
    }
}

fn holds(key: &str, rule: &Value, got: &Value) -> Result<(), String> {
    let says = |agrees: bool| if agrees { Ok(()) } else { Err(format!("{got}, expected {rule}")) };
    let has = |value: &Value| got.as_array().is_some_and(|list| list.contains(value));
    let of = |name: &str| rule[name].as_array().map_or(&[][..], Vec::as_slice);
    if rule.get("null").is_some() {
        return says(got.is_null());
    }
    if let Some(wanted) = rule.get("equals") {
        return says(got == wanted);
    }
    if rule.get("any_of").is_some() {
        return says(of("any_of").contains(got));
    }
    if rule.get("includes").is_some() {
        return says(of("includes").iter().all(has));
    }
    if rule.get("excludes").is_some() {
        return says(got.is_array() && !of("excludes").iter().any(has));
    }
    if let Some(grid) = rule.get("grid") {
        return fits(grid, got, rule["min_correlation"].as_f64().unwrap_or(0.8));
    }
    if let Some(wanted) = rule.get("value") {
        let biggest = numbers(wanted).iter().fold(0.0f64, |most, number| most.max(number.abs()));
        let relative = if wanted.get(0).is_some_and(Value::is_array) { 0.0 } else { biggest };
        let tolerance = rule["abs"].as_f64().unwrap_or(0.0).max(rule["rel"].as_f64().unwrap_or(0.0) * relative) + 1e-9;
        let (wanted, got) = (numbers(wanted), numbers(got));
        let near =
            |got: &[f64]| got.len() == wanted.len() && got.iter().zip(&wanted).all(|(a, b)| (a - b).abs() <= tolerance);
        return says(match key {
            "corners_px" => (0..4).any(|turn| {
                let mut turned = got.clone();
                turned.rotate_left((2 * turn).min(got.len()));
                near(&turned)
            }),
            _ if key.starts_with("angle_") && got.len() == 1 => {
                let off = (got[0] - wanted[0]).abs() % 180.0;
                off.min(180.0 - off) <= tolerance
            }
            _ => near(&got),
        });
    }
    let Some(number) = got.as_f64() else { return says(false) };
    says(
        rule["min"].as_f64().is_none_or(|least| number >= least - 1e-9)
            && rule["max"].as_f64().is_none_or(|most| number <= most + 1e-9),
    )
}

/// Every number in a value, from the left.
fn numbers(value: &Value) -> Vec<f64> {
    match value {
        Value::Array(list) => list.iter().flat_map(numbers).collect(),
        value => value.as_f64().into_iter().collect(),
    }
}

/// Whether a grid of tones fits the drawn scene, and better than its mirror or turned forms do.
fn fits(wanted: &Value, got: &Value, least: f64) -> Result<(), String> {
    let rows = |value: &Value| -> Vec<Vec<f64>> {
        value.as_array().map_or(Vec::new(), |rows| rows.iter().map(numbers).collect())
    };
    let (wanted, got) = (rows(wanted), numbers(got));
    let flat = |rows: Vec<Vec<f64>>| rows.concat();
    let mirrored =
        |rows: &[Vec<f64>]| -> Vec<Vec<f64>> { rows.iter().map(|row| row.iter().rev().copied().collect()).collect() };
    let upside: Vec<Vec<f64>> = wanted.iter().rev().cloned().collect();
    let right = correlation(&flat(wanted.clone()), &got);
    for (name, other) in [
        ("left and right changed", mirrored(&wanted)),
        ("upside down", mirrored(&upside)),
        ("top and bottom changed", upside.clone()),
    ] {
        let other = correlation(&flat(other), &got);
        if other >= right {
            return Err(format!("fits better {name}: {other} against {right}"));
        }
    }
    if right < least { Err(format!("correlation {right}")) } else { Ok(()) }
}

fn correlation(a: &[f64], b: &[f64]) -> f64 {
    if a.len() != b.len() || a.is_empty() {
        return -1.0;
    }
    let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let sum = |of: &dyn Fn(f64, f64) -> f64| a.iter().zip(b).map(|(x, y)| of(x - mean_a, y - mean_b)).sum::<f64>();
    let (ab, aa, bb) = (sum(&|x, y| x * y), sum(&|x, _| x * x), sum(&|_, y| y * y));
    if aa > 0.0 && bb > 0.0 { ab / (aa * bb).sqrt() } else { 0.0 }
}

/// What was found in the order of what was expected, by the nearest centre.
pub fn in_order(expected: &[Value], found: &[Value]) -> Vec<Value> {
    let centre = |object: &Value| -> [f64; 2] {
        let place = ["centroid_px", "corners_px"].iter().find_map(|key| object.get(*key)).unwrap_or(&Value::Null);
        let numbers = numbers(place.get("value").unwrap_or(place));
        let count = (numbers.len() / 2).max(1) as f64;
        [0, 1].map(|axis| numbers.iter().skip(axis).step_by(2).sum::<f64>() / count)
    };
    let mut rest = found.to_vec();
    let mut ordered = Vec::new();
    for object in expected {
        let [x, y] = centre(object);
        let nearest = (0..rest.len()).min_by(|a, b| {
            let away = |at: usize| {
                let [u, v] = centre(&rest[at]);
                (u - x).hypot(v - y)
            };
            away(*a).total_cmp(&away(*b))
        });
        if let Some(at) = nearest {
            ordered.push(rest.remove(at));
        }
    }
    ordered.extend(rest);
    ordered
}

#[test]
fn rules_can_fail() {
    use serde_json::json;
    let wrong = |rule: Value, got: Value| complaints("x", &rule, &got).len();
    assert_eq!(wrong(json!({"value": 1.0, "abs": 0.1}), json!(1.2)), 1);
    assert_eq!(wrong(json!({"value": 1.0, "rel": 0.3}), json!(1.2)), 0);
    assert_eq!(wrong(json!({"value": 1.0, "abs": 0.1}), Value::Null), 1);
    assert_eq!(wrong(json!({"null": true}), json!(0)), 1);
    assert_eq!(wrong(json!({"excludes": ["leak"]}), json!(["leak"])), 1);
    assert_eq!(wrong(json!({"includes": ["leak"]}), json!([])), 1);
    assert_eq!(wrong(json!({"min": 1, "max": 2}), json!(3)), 1);
    assert_eq!(wrong(json!({"a": {"equals": 1}}), json!({"b": 1})), 1);
    assert_eq!(complaints("angle_deg", &json!({"value": 89.0, "abs": 3.0}), &json!(-90.0)), Vec::<String>::new());
    let corners = json!({"value": [[0, 0], [9, 0], [9, 9], [0, 9]], "abs": 0.5});
    assert!(complaints("corners_px", &corners, &json!([[9, 0], [9, 9], [0, 9], [0, 0.2]])).is_empty());
    assert!(!complaints("corners_px", &corners, &json!([[9, 9], [9, 0], [0, 9], [0, 0]])).is_empty());
    let grid = json!([[0.0, 1.0], [0.5, 0.6]]);
    assert!(fits(&grid, &json!([[0.1, 0.9], [0.5, 0.6]]), 0.8).is_ok());
    assert!(fits(&grid, &json!([[1.0, 0.0], [0.6, 0.5]]), 0.8).is_err());
}
