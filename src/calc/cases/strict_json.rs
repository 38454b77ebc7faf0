//! JSON in which no name stands twice. The usual reading keeps the last of two and says nothing; a
//! script that writes `{"ev100": 15, "ev100": 12}` should hear of it.

use std::fmt;
use std::ops::Range;

use serde::de::{Deserialize, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};

/// Reads one JSON value. A number too large to be one (`1e999` is JSON all the same) reads as `null`,
/// which no input accepts: its field is then named, not the whole line refused.
pub fn parse(text: &[u8]) -> Result<Value, serde_json::Error> {
    let mut text = text.to_vec();
    for _ in 0..MOST_NUMBERS_TOO_LARGE {
        match serde_json::from_slice(&text) {
            Ok(Strict(value)) => return Ok(value),
            Err(error) => match too_large_a_number(&text, &error) {
                Some(number) => drop(text.splice(number, *b"null")),
                None => return Err(error),
            },
        }
    }
    serde_json::from_slice(&text).map(|Strict(value)| value)
}

/// Each such number costs another reading of the line.
const MOST_NUMBERS_TOO_LARGE: usize = 100;

/// Where the number stands that the reader stopped at for its size.
fn too_large_a_number(text: &[u8], error: &serde_json::Error) -> Option<Range<usize>> {
    if !error.to_string().starts_with("number out of range") {
        return None;
    }
    let of_number = |b: &u8| b.is_ascii_digit() || b"+-.eE".contains(b);
    let stop = error.column().min(text.len());
    let start = stop - text[..stop].iter().rev().take_while(|b| of_number(b)).count();
    let end = stop + text[stop..].iter().take_while(|b| of_number(b)).count();
    (start < end).then_some(start..end)
}

struct Strict(Value);

impl<'de> Deserialize<'de> for Strict {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Reader).map(Self)
    }
}

struct Reader;

impl<'de> Visitor<'de> for Reader {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E: Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        Number::from_f64(value).map(Value::Number).ok_or_else(|| E::custom("number out of range"))
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Value, E> {
        Ok(Value::from(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let mut list = Vec::new();
        while let Some(Strict(value)) = entries.next_element()? {
            list.push(value);
        }
        Ok(Value::Array(list))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut entries: A) -> Result<Value, A::Error> {
        let mut object = Map::new();
        while let Some((name, Strict(value))) = entries.next_entry::<String, _>()? {
            if object.contains_key(&name) {
                return Err(A::Error::custom(format!("the name {name:?} stands twice")));
            }
            object.insert(name, value);
        }
        Ok(Value::Object(object))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_reads_what_the_usual_reader_reads() {
        for text in ["null", "[1, -2, 2.5e3, true, \"ä\\n\", {}]", r#"{"a": {"b": [18446744073709551615]}}"#] {
            let usual: Value = serde_json::from_str(text).unwrap();
            assert_eq!(parse(text.as_bytes()).unwrap(), usual);
        }
    }

    #[test]
    fn a_number_too_large_reads_as_null() {
        let usual: Value = serde_json::from_str(r#"{"a": [null, null, 2], "b": null}"#).unwrap();
        let text = r#"{"a": [1e999, -123456789e+400, 2], "b":1.5E999}"#;
        assert_eq!(parse(text.as_bytes()).unwrap(), usual);
        assert!(parse(b"1e9999 x").is_err());
    }

    #[test]
    fn a_name_that_stands_twice_is_refused_at_any_depth() {
        for text in [r#"{"a": 1, "a": 1}"#, r#"[{"given": {"x": 1, "y": 2, "x": 3}}]"#] {
            assert!(parse(text.as_bytes()).unwrap_err().to_string().contains("stands twice"), "{text}");
        }
    }
}
