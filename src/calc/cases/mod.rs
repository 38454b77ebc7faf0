//! Cases: a quantity by name, its inputs as JSON, its values as JSON. The engine of `shimlight calc`.
//!
//! One table of definitions checks the inputs and prints the list; each
//! definition ends in a function of the calculation core. Text in, text out; nothing is read or
//! written here.

mod checking;
mod darkroom;
mod dates;
mod definition;
mod diffraction;
mod field;
mod given;
mod hole;
mod light;
mod list;
mod silver;
mod strict_json;

use std::sync::LazyLock;

use serde_json::{Map, Value, json};

use definition::{Definition, Refusal};

pub use list::list;

/// Every quantity, in the order in which the list shows them.
fn definitions() -> &'static [Definition] {
    static ALL: LazyLock<Vec<Definition>> = LazyLock::new(|| {
        [
            hole::definitions(),
            field::definitions(),
            diffraction::definitions(),
            light::definitions(),
            darkroom::definitions(),
            silver::definitions(),
            dates::definitions(),
        ]
        .into_iter()
        .flatten()
        .collect()
    });
    &ALL
}

/// The answer to one line.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// What to write: `{"id", "values"}` or `{"id", "error": {"field", "message"}}`.
    pub json: Value,
    /// Whether it carries values.
    pub good: bool,
}

/// Answers one line of input; `None` for a blank one. `number` counts lines from 1.
///
/// ```
/// use shimlight::calc::cases::answer;
/// let line = br#"{"id": "a", "quantity": "f_number", "given": {"hole_to_film_mm": 75, "hole_diameter_mm": 0.3}}"#;
/// assert_eq!(answer(line, 1).unwrap().json["values"]["f_number"], 250.0);
/// ```
pub fn answer(line: &[u8], number: usize) -> Option<Answer> {
    if line.trim_ascii().is_empty() {
        return None;
    }
    let case = match strict_json::parse(line) {
        Ok(case) => case,
        Err(error) => {
            let refusal = Refusal {
                field: format!("line {number}"),
                message: format!("must be one JSON object on a line: {}", cause(&error)),
            };
            return Some(refused(&Value::Null, refusal));
        }
    };
    let Value::Object(case) = case else {
        let refusal = Refusal {
            field: format!("line {number}"),
            message: "must be a JSON object with id, quantity and given".to_owned(),
        };
        return Some(refused(&Value::Null, refusal));
    };
    let id = case.get("id").cloned().unwrap_or(Value::Null);
    Some(match values(&case) {
        Ok(values) => Answer { json: json!({"id": id, "values": values}), good: true },
        Err(refusal) => refused(&id, refusal),
    })
}

/// The answer to a line that is longer than [`LONGEST_LINE`].
pub fn answer_to_long_line(number: usize) -> Answer {
    let refusal =
        Refusal { field: format!("line {number}"), message: format!("must be at most {LONGEST_LINE} bytes long") };
    refused(&Value::Null, refusal)
}

/// Longest line that is looked at, in bytes.
pub const LONGEST_LINE: usize = 1_000_000;

fn values(case: &Map<String, Value>) -> Result<Map<String, Value>, Refusal> {
    if !case.get("id").is_some_and(Value::is_string) {
        return Err(Refusal::of("id", "must be a text that names the case"));
    }
    let quantity = case
        .get("quantity")
        .and_then(Value::as_str)
        .ok_or_else(|| Refusal::of("quantity", "must be the name of a quantity, as text"))?;
    let definition = definitions()
        .iter()
        .find(|d| d.quantity == quantity)
        .ok_or_else(|| Refusal::of("quantity", "is not one of the quantities that shimlight calc --list names"))?;
    let given = case
        .get("given")
        .and_then(Value::as_object)
        .ok_or_else(|| Refusal::of("given", "must be an object with the inputs"))?;
    definition.values(given)
}

fn refused(id: &Value, refusal: Refusal) -> Answer {
    let Refusal { field, message } = refusal;
    Answer { json: json!({"id": id, "error": {"field": field, "message": message}}), good: false }
}

/// What was wrong with the text, without the library's own line number (always 1).
fn cause(error: &serde_json::Error) -> String {
    let text = error.to_string();
    match text.split_once(" at line ") {
        Some((cause, _)) => format!("{cause} at column {}", error.column()),
        None => text,
    }
}

#[cfg(test)]
mod tests;
