//! The engine as a script meets it: what is refused and how, and that nothing breaks it.

use proptest::prelude::*;

use super::definition::{Input, Kind, Need};
use super::*;

fn asked(line: &str) -> Value {
    answer(line.as_bytes(), 7).unwrap().json
}

fn refusal(line: &str) -> (String, String) {
    let said = asked(line);
    assert_eq!(said.get("values"), None, "{said}");
    let error = &said["error"];
    (error["field"].as_str().unwrap().to_owned(), error["message"].as_str().unwrap().to_owned())
}

fn about(quantity: &str, given: &str) -> (String, String) {
    refusal(&format!(r#"{{"id":"x","quantity":"{quantity}","given":{given}}}"#))
}

#[test]
fn a_blank_line_has_no_answer() {
    assert_eq!(answer(b"  \t\r\n", 1), None);
}

#[test]
fn a_line_that_is_not_json_is_named_by_its_number() {
    let said = asked("{oops}");
    assert_eq!(said["id"], Value::Null);
    assert_eq!(said["error"]["field"], "line 7");
    assert_eq!(asked("[1]")["error"]["field"], "line 7");
    assert_eq!(answer(b"\"\xff\"", 7).unwrap().json["error"]["field"], "line 7");
}

#[test]
fn an_unknown_quantity_or_input_is_refused() {
    assert_eq!(about("hole_size", "{}").0, "quantity");
    let (field, message) = about("f_number", r#"{"hole_to_film_mm": 75, "hole_mm": 1}"#);
    assert_eq!(field, "hole_mm");
    assert_eq!(message, "is not an input of f_number, which takes hole_to_film_mm, hole_diameter_mm");
}

#[test]
fn a_missing_or_mistyped_or_wild_input_states_the_range() {
    let range = "must be a number from 0.01 to 20 mm";
    let (field, message) = about("f_number", r#"{"hole_to_film_mm":75}"#);
    assert_eq!(field, "hole_diameter_mm");
    assert_eq!(message, format!("is missing; it {range}"));
    for bad in ["\"0.3\"", "0", "-1", "21", "true", "[0.3]", "null"] {
        let (field, message) = about("f_number", &format!(r#"{{"hole_to_film_mm":75,"hole_diameter_mm":{bad}}}"#));
        assert_eq!((field.as_str(), message.as_str()), ("hole_diameter_mm", range), "{bad}");
    }
}

#[test]
fn alternatives_given_together_are_refused() {
    let (field, message) = about("light_value", r#"{"luminance_cd_m2": 4000, "illuminance_lx": 80000}"#);
    assert_eq!(field, "illuminance_lx");
    assert_eq!(message, "cannot be given together with luminance_cd_m2: give one or the other");
    let (field, message) = about("light_value", "{}");
    assert_eq!(field, "luminance_cd_m2");
    assert_eq!(message, "is missing: give luminance_cd_m2 or illuminance_lx");
}

#[test]
fn a_case_without_an_id_is_refused() {
    let (field, _) = refusal(r#"{"quantity":"f_number","given":{}}"#);
    assert_eq!(field, "id");
}

#[test]
fn every_definition_refuses_an_unknown_input_and_is_in_the_list_once() {
    let table = list();
    for definition in definitions() {
        let (field, _) = about(definition.quantity, r#"{"surprise": 1}"#);
        assert_eq!(field, "surprise", "{}", definition.quantity);
        let heads = table.lines().filter(|line| *line == definition.quantity).count();
        assert_eq!(heads, 1, "{}", definition.quantity);
    }
}

/// What is wrong with a working; nothing where it shows its value, its formula with numbers put in, and its source.
fn not_a_working(working: &Value) -> Option<String> {
    let Some(texts) = working.as_object() else {
        return Some(format!("there is none: {working}"));
    };
    for name in texts.keys() {
        if !["value", "formula", "source", "interval"].contains(&name.as_str()) {
            return Some(format!("{name} is not named in the protocol"));
        }
    }
    for name in ["value", "formula", "source"] {
        match texts.get(name).and_then(Value::as_str) {
            None | Some("") => return Some(format!("no {name}")),
            Some(text) if text.contains("NaN") => return Some(format!("{name}: {text}")),
            Some(text) if name == "formula" && !text.contains(|c: char| c.is_ascii_digit()) => {
                return Some(format!("no numbers put in: {text}"));
            }
            Some(_) => {}
        }
    }
    None
}

/// Every quantity shows its working, and an interval where one is honest.
#[test]
fn every_quantity_shows_its_working_with_its_source() {
    let mut with_interval = Vec::new();
    for definition in definitions() {
        // The first throws that are not refused; a case in the middle of its ranges mostly is not.
        let answered = (0..97).find_map(|round| {
            let throw = |i: u32| 0.12 + 0.76 * f64::from((i * i * 31 + round * 17 * (i + 1)) % 97) / 97.0;
            let throws: Vec<f64> = (0..40).map(throw).collect();
            let mut given = Dice(throws.into_iter()).given(definition);
            for (input, usual) in [("hole_diameter_mm", 0.4), ("radius_mm", 0.1)] {
                if given.get(input).is_some() {
                    given[input] = json!(usual);
                }
            }
            let said = asked(&json!({"id": "x", "quantity": definition.quantity, "given": given}).to_string());
            said.get("values").cloned()
        });
        let values = answered.unwrap_or_else(|| panic!("{} was never answered", definition.quantity));
        assert_eq!(not_a_working(&values["working"]), None, "{}", definition.quantity);
        if values["working"].get("interval").is_some() {
            with_interval.push(definition.quantity);
        }
    }
    for quantity in [
        "hole_diameter",
        "sharpest_hole",
        "hole_readings",
        "scan_diameter",
        "sun_position",
        "reciprocity_fit",
        "experience",
        "silver_dissolved",
        "silver_room_left",
    ] {
        assert!(with_interval.contains(&quantity), "{quantity} has an interval: {with_interval:?}");
    }
}

#[test]
fn a_working_without_numbers_or_source_is_found() {
    let good = json!({"value": "0.467 mm", "formula": "d = 1.9", "source": "common practice, no source"});
    assert_eq!(not_a_working(&good), None);
    assert!(not_a_working(&Value::Null).is_some());
    for (name, bad) in [("formula", "d = C"), ("source", ""), ("value", "NaN mm")] {
        let mut wrong = good.clone();
        wrong[name] = json!(bad);
        assert!(not_a_working(&wrong).is_some(), "{name}");
    }
}

/// Dice for one case: each throw is a number from 0 to 1.
struct Dice(std::vec::IntoIter<f64>);

impl Dice {
    fn throw(&mut self) -> f64 {
        self.0.next().unwrap_or(0.5)
    }

    /// A number within a range, often near one of its ends, as a decimal.
    fn within(&mut self, min: f64, max: f64) -> f64 {
        match self.throw() {
            t if t < 0.1 => min,
            t if t > 0.9 => max,
            // Evenly over the orders of magnitude where the range has them.
            t if min > 0.0 => min * (max / min).powf((t - 0.1) / 0.8),
            t => min + (max - min) * (t - 0.1) / 0.8,
        }
        .clamp(min, max)
    }

    fn one_of<'a, T: ?Sized>(&mut self, list: &[&'a T]) -> &'a T {
        list[((self.throw() * list.len() as f64) as usize).min(list.len() - 1)]
    }

    fn value(&mut self, kind: &Kind) -> Value {
        match kind {
            Kind::Number { min, max, .. } => json!(self.within(*min, *max)),
            Kind::Whole { min, max } => json!(self.within(f64::from(*min), f64::from(*max)).round()),
            Kind::Choice(words) => json!(self.one_of(words)),
            Kind::Label => json!(self.one_of(&["a", "b", "c"])),
            Kind::Parts => json!(self.one_of(&["1+9", "1+0", "2+3", "0.01+1000"])),
            Kind::Sheet => json!(self.one_of(&["8x10in", "9x12cm", "1x3000mm"])),
            Kind::Sheets => json!({"4x5in": self.within(0.0, 1e6).round(), "18x24cm": 3}),
            Kind::Moment => json!(self.one_of(&[
                "2026-03-20T12:00:00Z",
                "1900-01-01T00:00:00[Pacific/Auckland]",
                "2199-12-31T23:59:59-11:00",
            ])),
            Kind::Date => json!(self.one_of(&["2028-02-29", "1900-01-01", "2199-12-31"])),
            Kind::DateOrMoment => json!(self.one_of(&["2028-02-29", "2026-03-08T04:30:00Z[America/New_York]"])),
            Kind::Zone => json!(self.one_of(&["America/Denver", "Europe/London"])),
            Kind::Numbers { min, max, least, .. } => {
                Value::from((0..*least + 1).map(|_| self.within(*min, *max)).collect::<Vec<_>>())
            }
            Kind::Record(fields) => self.object(fields, &[]),
            Kind::Records { fields, least } => (0..*least + 2).map(|_| self.object(fields, &[])).collect(),
        }
    }

    fn object(&mut self, inputs: &[Input], left_aside: &[&str]) -> Value {
        let mut object = Map::new();
        for input in inputs.iter().filter(|input| !left_aside.contains(&input.name)) {
            if matches!(input.need, Need::Required) || self.throw() < 0.5 {
                object.insert(input.name.to_owned(), self.value(&input.kind));
            }
        }
        Value::Object(object)
    }

    /// A case of a definition with one set of each alternative.
    fn given(&mut self, definition: &Definition) -> Value {
        let mut left_aside = Vec::new();
        for either in &definition.eithers {
            let chosen = self.one_of(either.0);
            left_aside.extend(either.0.iter().filter(|set| **set != chosen).flat_map(|set| set.iter().copied()));
        }
        self.object(&definition.inputs, &left_aside)
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Whatever is asked within the ranges gets its values, or is told which input is at fault.
    #[test]
    fn nothing_within_the_ranges_breaks_a_quantity(
        which in 0..definitions().len(), dice in proptest::collection::vec(0.0..=1.0f64, 40),
    ) {
        let definition = &definitions()[which];
        // The largest holes take long without optimisation; their own tests look at them.
        let mut given = Dice(dice.into_iter()).given(definition);
            if given.get("hole_diameter_mm").is_some() && (given.get("radius_mm").or(given.get("share"))).is_some() {
            given["hole_diameter_mm"] = json!(0.4);
        }
        let line = json!({"id": "x", "quantity": definition.quantity, "given": given}).to_string();
        let said = answer(line.as_bytes(), 1).unwrap().json;
        if let Some(error) = said.get("error") {
            let field = error["field"].as_str().unwrap();
            let known = definition.inputs.iter().any(|input| field.starts_with(input.name));
            prop_assert!(known, "{line} {said}");
        } else {
            let complaint = not_a_working(&said["values"]["working"]);
            prop_assert!(complaint.is_none(), "{line} {complaint:?}");
            for (name, value) in said["values"].as_object().unwrap() {
                if name == "working" {
                    continue;
                }
                prop_assert!(definition.outputs.contains(&name.as_str()), "{name} is not in the list");
                prop_assert!(!value.is_null(), "{line} {said}");
            }
        }
    }
}

/// What cannot be in optics: each names its field and the range.
#[test]
fn optics_that_cannot_be_is_refused_with_its_field_and_range() {
    let diffraction =
        ["fresnel_number", "point_spread", "transfer", "contrast_limit", "encircled_energy", "encircled_radius"];
    let rest = |quantity: &str| match quantity {
        "point_spread" | "encircled_energy" => r#","radius_mm":0.1"#,
        "transfer" => r#","frequency_per_mm":2"#,
        "contrast_limit" => r#","level":0.2"#,
        "encircled_radius" => r#","share":0.5"#,
        _ => "",
    };
    for quantity in diffraction {
        let with = |hole: &str, v: &str, more: &str| {
            about(quantity, &format!(r#"{{"hole_diameter_mm":{hole},"hole_to_film_mm":{v}{more}{}}}"#, rest(quantity)))
        };
        for bad in ["0", "-0.3", "\"NaN\"", "null", "21"] {
            let expected = ("hole_diameter_mm".to_owned(), "must be a number from 0.01 to 20 mm".to_owned());
            assert_eq!(with(bad, "75", ""), expected, "{quantity} {bad}");
        }
        for bad in ["0", "-75", "\"NaN\"", "5001"] {
            let expected = ("hole_to_film_mm".to_owned(), "must be a number from 5 to 5000 mm".to_owned());
            assert_eq!(with("0.3", bad, ""), expected, "{quantity} {bad}");
        }
        // a hole wider than its distance; a subject inside the camera or behind the hole
        let wide =
            ("hole_diameter_mm".to_owned(), "must be from 0.01 to below 8 mm, the distance to the film".to_owned());
        assert_eq!(with("8", "8", ""), wide, "{quantity}");
        for bad in ["0", "-500", "9.9"] {
            let (field, message) = with("0.3", "75", &format!(r#","subject_distance_mm":{bad}"#));
            assert_eq!(field, "subject_distance_mm", "{quantity} {bad}");
            assert_eq!(message, "must be a number from 10 to 100000000 mm");
        }
        let (field, message) = with("0.3", "75", r#","spectrum":{"from_nm":360,"to_nm":800,"shape":"d55"}"#);
        assert_eq!(
            (field.as_str(), message.as_str()),
            ("spectrum.shape", "a band of daylight must lie from 300 to 780 nm")
        );
        let (field, _) = with("0.3", "75", r#","spectrum":{"from_nm":500,"to_nm":360,"shape":"d55"}"#);
        assert_eq!(field, "spectrum.to_nm", "{quantity}");
    }
    for (quantity, given) in [
        ("f_number", r#"{"hole_diameter_mm":9,"hole_to_film_mm":8}"#),
        ("time_factor", r#"{"hole_diameter_mm":9,"hole_to_film_mm":8,"reference_f_number":16}"#),
        ("geometric_blur", r#"{"hole_diameter_mm":9,"hole_to_film_mm":8}"#),
        ("airy_radius", r#"{"hole_diameter_mm":9,"hole_to_film_mm":8,"wavelength_nm":550}"#),
        ("plate_cut_off", r#"{"hole_diameter_mm":9,"hole_to_film_mm":8,"plate_thickness_mm":0.1}"#),
        ("image_circle", r#"{"hole_diameter_mm":9,"hole_to_film_mm":8,"plate_thickness_mm":0.1,"loss_stops":1}"#),
    ] {
        let (field, message) = about(quantity, given);
        assert_eq!(field, "hole_diameter_mm", "{quantity}");
        assert!(message.contains("to below 8 mm"), "{quantity}: {message}");
    }
    let curved = r#"{"hole_diameter_mm":12,"inside_radius_mm":6,"film":"curved","frequency_per_mm":1}"#;
    assert_eq!(about("transfer", curved).0, "hole_diameter_mm");
    // a film longer than the can is round: 2 × 40 × π = 251.327 mm
    let (field, message) = about("field_curved", r#"{"film_arc_mm":252,"film_height_mm":90,"inside_radius_mm":40}"#);
    assert_eq!(field, "film_arc_mm");
    assert!(message.starts_with("must be a number from 1 to 251.32"), "{message}");
    // JSON knows no such numbers
    for (bad, named) in [("NaN", "line 7"), ("Infinity", "line 7"), ("1e999", "hole_diameter_mm")] {
        let line =
            format!(r#"{{"id":"x","quantity":"f_number","given":{{"hole_to_film_mm":75,"hole_diameter_mm":{bad}}}}}"#);
        assert_eq!(refusal(&line).0, named, "{bad}");
    }
}

/// Away from the axis: what is beyond the range is refused, and a contrast limit is that of a longer camera.
#[test]
fn away_from_the_axis_the_range_is_said_and_contrast_limits_are_answered() {
    for quantity in [r#""transfer","given":{"frequency_per_mm":1"#, r#""contrast_limit","given":{"level":0.2"#] {
        let with = |angle: &str| {
            refusal(&format!(
                r#"{{"id":"x","quantity":{quantity},"hole_diameter_mm":0.35,"hole_to_film_mm":75,"field_angle_deg":{angle},"direction":"sagittal"}}}}"#
            ))
        };
        for bad in ["85.1", "90", "-1"] {
            let expected = ("field_angle_deg".to_owned(), "must be a number from 0 to 85 °".to_owned());
            assert_eq!(with(bad), expected, "{quantity} {bad}");
        }
    }
    let limit = |camera: &str| {
        let said = asked(&format!(
            r#"{{"id":"x","quantity":"contrast_limit","given":{{"hole_diameter_mm":0.35,"level":0.2,{camera}}}}}"#
        ));
        said["values"]["frequency_per_mm"].as_f64().unwrap_or_else(|| panic!("{said}"))
    };
    let longer = 75.0 / 0.75f64.powf(1.5);
    let oblique = limit(r#""hole_to_film_mm":75,"field_angle_deg":30,"direction":"tangential""#);
    assert!((oblique - limit(&format!(r#""hole_to_film_mm":{longer}"#))).abs() < 1e-9, "{oblique}");
    let bent = limit(r#""inside_radius_mm":40,"film":"curved","field_angle_deg":60,"direction":"sagittal""#);
    assert!((bent - limit(r#""hole_to_film_mm":40"#)).abs() < 1e-9, "{bent}: 2R cos 60° = 40 mm");
    // beside the hole the wall is so near that 5 mm are no hole any more: refused with the range, by the field
    let (field, message) = refusal(
        r#"{"id":"x","quantity":"transfer","given":{"hole_diameter_mm":5,"inside_radius_mm":6,"film":"curved","frequency_per_mm":1,"field_angle_deg":84,"direction":"sagittal"}}"#,
    );
    assert_eq!(field, "hole_diameter_mm");
    assert!(message.starts_with("must be from 0.01 to ") && message.contains("plain shadow"), "{message}");
}

/// The image of a point away from the axis: what is beyond its range is refused by its field, also what has no direction;
/// at no angle it is the image on the axis, on curved film as well; far off, for a wide hole and for nearly all of the
/// light it is worked out as well.
#[test]
fn the_image_of_a_point_away_from_the_axis_says_its_range() {
    let camera = r#""hole_diameter_mm":0.35,"hole_to_film_mm":75"#;
    for (quantity, given, field, range) in [
        (
            "encircled_energy",
            r#""radius_mm":0.1,"field_angle_deg":85.5"#,
            "field_angle_deg",
            "must be a number from 0 to 85 °",
        ),
        ("encircled_energy", r#""radius_mm":5000,"field_angle_deg":30"#, "radius_mm", "must be a number from 0 to "),
        ("encircled_radius", r#""share":0.995,"field_angle_deg":30"#, "share", "must be a number from 0.01 to 0.99"),
        ("point_spread", r#""radius_mm":0.1,"field_angle_deg":30"#, "direction", "is missing"),
    ] {
        let (at, message) = about(quantity, &format!("{{{camera},{given}}}"));
        assert_eq!(at, field, "{quantity} {given}");
        assert!(message.starts_with(range), "{message}");
    }
    let half = |given: &str| {
        let line = format!(
            r#"{{"id":"x","quantity":"encircled_radius","given":{{"hole_diameter_mm":0.35,"share":0.5,{given}}}}}"#
        );
        let said = asked(&line);
        said["values"]["radius_mm"].as_f64().unwrap_or_else(|| panic!("{said}"))
    };
    let ahead = half(r#""hole_to_film_mm":75"#);
    assert_eq!(half(r#""inside_radius_mm":37.5,"film":"curved""#), ahead);
    assert!((half(r#""hole_to_film_mm":75,"field_angle_deg":0.01"#) / ahead - 1.0).abs() < 1e-4);
    assert!(half(r#""hole_to_film_mm":75,"field_angle_deg":45"#) > 1.3 * ahead);
    let radius = |given: &str| {
        let said = asked(&format!(r#"{{"id":"x","quantity":"encircled_radius","given":{{{given}}}}}"#));
        said["values"]["radius_mm"].as_f64().unwrap_or_else(|| panic!("{said}"))
    };
    // half of a wide hole's light falls within 1/√2 of its shadow's radius
    let wide = radius(r#""hole_diameter_mm":2,"hole_to_film_mm":75,"field_angle_deg":30,"share":0.5"#);
    assert!((wide - 0.707).abs() < 0.01, "{wide}");
    let drawn_out = radius(r#""hole_diameter_mm":0.35,"hole_to_film_mm":75,"field_angle_deg":75,"share":0.98"#);
    assert!(drawn_out > 50.0 * ahead, "{drawn_out}");
}
