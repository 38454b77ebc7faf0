//! The table of quantities as text, from the definitions that check the inputs.

use std::fmt::Write as _;

use super::definition::{Definition, Input, Need, WORKING};
use super::definitions;
use super::given::Item;
use crate::calc::working::plain;

/// The table that `shimlight calc --list` prints.
pub fn list() -> String {
    let mut text = String::from(
        "Quantities of shimlight calc. One JSON object a line:\n\
         {\"id\": \"...\", \"quantity\": \"...\", \"given\": {...}}\n\
         Each gives its values and their working: {\"value\", \"formula\", \"source\"}, texts, and \"interval\" where an\n\
         honest one exists.\n",
    );
    for definition in definitions() {
        text.push('\n');
        entry(&mut text, definition);
    }
    text
}

fn entry(text: &mut String, definition: &Definition) {
    // Writing into a String cannot fail.
    let _ = writeln!(text, "{}", definition.quantity);
    for input in &definition.inputs {
        let _ = writeln!(text, "  {:<24} {}{}", input.name, input.kind.description(), left_out(input));
    }
    for either in &definition.eithers {
        let ways: Vec<_> = either.0.iter().map(|set| set.join(" and ")).collect();
        let _ = writeln!(text, "  either {}", ways.join(", or "));
    }
    let _ = writeln!(text, "  gives {}, {WORKING}", definition.outputs.join(", "));
}

fn left_out(input: &Input) -> String {
    match &input.need {
        Need::Required => String::new(),
        Need::Optional => "; may be left out".to_owned(),
        Need::Default(Item::Number(n)) => format!("; {} when left out", plain(*n)),
        Need::Default(Item::Choice(word)) => format!("; {word} when left out"),
        Need::Default(_) => "; has a default".to_owned(),
    }
}
