//! Inputs as JSON against their definition.

use std::collections::BTreeMap;

use jiff::civil::Date;
use jiff::fmt::temporal::DateTimeParser;
use jiff::tz::{Disambiguation, TimeZone, TimeZoneDatabase};
use jiff::{Timestamp, tz};
use serde_json::{Map, Value};

use super::definition::{Definition, Either, Input, Kind, LONGEST_LABEL, LONGEST_LIST, Need, Refusal};
use super::given::{Given, Item, Start};

/// Most sheets of one size.
pub const MOST_SHEETS: u32 = 1_000_000;

/// The inputs of a case, checked, with defaults filled in.
pub fn given(definition: &Definition, json: &Map<String, Value>) -> Result<Given, Refusal> {
    let known = |name: &str| definition.inputs.iter().any(|input| input.name == name);
    if let Some(name) = json.keys().find(|name| !known(name)) {
        let takes: Vec<_> = definition.inputs.iter().map(|input| input.name).collect();
        let message = format!("is not an input of {}, which takes {}", definition.quantity, takes.join(", "));
        return Err(Refusal::of(name, message));
    }
    let mut left_aside = Vec::new();
    for either in &definition.eithers {
        left_aside.extend(others(either, definition, json)?);
    }
    let inputs = definition.inputs.iter().filter(|input| !left_aside.contains(&input.name));
    record(inputs, json, "")
}

/// Of sets of inputs the names of all but the one that was given.
fn others(
    Either(sets): &Either,
    definition: &Definition,
    json: &Map<String, Value>,
) -> Result<Vec<&'static str>, Refusal> {
    let present = |name: &&str| json.contains_key(*name);
    let mut chosen: Option<(usize, &str)> = None;
    for (place, set) in sets.iter().enumerate() {
        let Some(name) = set.iter().copied().find(present) else {
            continue;
        };
        if let Some((_, first)) = chosen {
            let message = format!("cannot be given together with {first}: give one or the other");
            return Err(Refusal::of(name, message));
        }
        chosen = Some((place, name));
    }
    let place = match chosen {
        Some((place, _)) => place,
        None => {
            let needed = |name: &&&str| {
                let input = definition.inputs.iter().find(|input| input.name == **name);
                input.is_some_and(|input| matches!(input.need, Need::Required))
            };
            if let Some(name) = sets[0].iter().find(needed) {
                let ways: Vec<_> = sets.iter().map(|set| set[0]).collect();
                let message = format!("is missing: give {}", ways.join(" or "));
                return Err(Refusal::of(*name, message));
            }
            0
        }
    };
    let rest = sets.iter().enumerate().filter(|(i, _)| *i != place);
    Ok(rest.flat_map(|(_, set)| set.iter().copied()).collect())
}

fn record<'a>(
    inputs: impl Iterator<Item = &'a Input>,
    json: &Map<String, Value>,
    within: &str,
) -> Result<Given, Refusal> {
    let mut checked = BTreeMap::new();
    for input in inputs {
        let field = format!("{within}{}", input.name);
        let item = match (json.get(input.name), &input.need) {
            (None, Need::Required) => {
                let message = format!("is missing; it must be {}", input.kind.description());
                return Err(Refusal::of(field, message));
            }
            (None, Need::Optional) => continue,
            (None, Need::Default(item)) => item.clone(),
            (Some(value), _) => item(&input.kind, value, &field)?,
        };
        checked.insert(input.name, item);
    }
    Ok(Given(checked))
}

fn item(kind: &Kind, value: &Value, field: &str) -> Result<Item, Refusal> {
    let refused = || Refusal::of(field, format!("must be {}", kind.description()));
    let text = || value.as_str().ok_or_else(refused);
    Ok(match kind {
        Kind::Number { min, max, .. } => Item::Number(number(value, *min, *max).ok_or_else(refused)?),
        Kind::Whole { min, max } => Item::Whole(whole(value, *min, *max).ok_or_else(refused)?),
        Kind::Choice(words) => {
            let said = text()?;
            Item::Choice(words.iter().copied().find(|w| *w == said).ok_or_else(refused)?)
        }
        Kind::Label => {
            let said = text()?;
            if !(1..=LONGEST_LABEL).contains(&said.chars().count()) {
                return Err(refused());
            }
            Item::Text(said.to_owned())
        }
        Kind::Parts => Item::Parts(text()?.parse().map_err(|_| refused())?),
        Kind::Sheet => Item::Sheet(text()?.parse().map_err(|_| refused())?),
        Kind::Sheets => sheets(value, field).ok_or_else(refused)??,
        Kind::Moment => Item::Moment(moment(text()?, field, kind)?.0),
        Kind::Date => Item::Date(date(text()?).ok_or_else(refused)?),
        Kind::DateOrMoment => Item::Start(match date(text()?) {
            Some(date) => Start::Date(date),
            None => {
                let (at, zone) = moment(text()?, field, kind)?;
                Start::Moment(at, zone)
            }
        }),
        Kind::Zone => Item::Zone(TimeZoneDatabase::bundled().get(text()?).map_err(|_| refused())?),
        Kind::Numbers { min, max, least, .. } => {
            let list = list(value, *least).ok_or_else(refused)?;
            let numbers = list.iter().map(|n| number(n, *min, *max).ok_or_else(refused));
            Item::Numbers(numbers.collect::<Result<_, _>>()?)
        }
        Kind::Record(fields) => {
            let json = value.as_object().ok_or_else(refused)?;
            Item::Record(inner(fields, json, field)?)
        }
        Kind::Records { fields, least } => {
            let list = list(value, *least).ok_or_else(refused)?;
            let mut records = Vec::new();
            for (place, entry) in list.iter().enumerate() {
                let json = entry.as_object().ok_or_else(refused)?;
                records.push(inner(fields, json, &format!("{field}[{place}]"))?);
            }
            Item::Records(records)
        }
    })
}

fn inner(fields: &[Input], json: &Map<String, Value>, field: &str) -> Result<Given, Refusal> {
    let known = |name: &str| fields.iter().any(|f| f.name == name);
    if let Some(name) = json.keys().find(|name| !known(name)) {
        let takes: Vec<_> = fields.iter().map(|f| f.name).collect();
        let message = format!("is not known here, only {}", takes.join(", "));
        return Err(Refusal::of(format!("{field}.{name}"), message));
    }
    record(fields.iter(), json, &format!("{field}."))
}

fn number(value: &Value, min: f64, max: f64) -> Option<f64> {
    value.as_f64().filter(|n| n.is_finite() && (min..=max).contains(n))
}

fn whole(value: &Value, min: u32, max: u32) -> Option<u32> {
    let n = value.as_f64().filter(|n| n.fract() == 0.0)?;
    // Within the range of u32 by the comparison, so the cast loses nothing.
    (f64::from(min)..=f64::from(max)).contains(&n).then_some(n as u32)
}

fn list(value: &Value, least: usize) -> Option<&Vec<Value>> {
    value.as_array().filter(|list| (least..=LONGEST_LIST).contains(&list.len()))
}

/// Sheets by size; `None` when the whole is not such an object, an inner refusal for one entry.
fn sheets(value: &Value, field: &str) -> Option<Result<Item, Refusal>> {
    let json = value.as_object().filter(|o| (1..=LONGEST_LIST).contains(&o.len()))?;
    let entry = |(size, count): (&String, &Value)| {
        let field = format!("{field}.{size}");
        let size = size.parse().map_err(|error| Refusal::of(&field, error))?;
        let count = whole(count, 0, MOST_SHEETS)
            .ok_or_else(|| Refusal::of(&field, format!("must be a whole number from 0 to {MOST_SHEETS}")))?;
        Ok((size, count))
    };
    Some(json.iter().map(entry).collect::<Result<_, _>>().map(Item::Sheets))
}

/// A calendar date and nothing else, from 1900 to 2199.
fn date(text: &str) -> Option<Date> {
    // The date parser itself would also read the date off an instant, in whichever zone.
    let plain = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    let date: Date = plain.then(|| text.parse().ok())??;
    (1900..2200).contains(&date.year()).then_some(date)
}

static PARSER: DateTimeParser = DateTimeParser::new().disambiguation(Disambiguation::Reject);

/// An instant, with the zone it names. A local time that a change of clocks skips or repeats needs
/// its offset: guessing one would be an hour wrong half of the time.
fn moment(text: &str, field: &str, kind: &Kind) -> Result<(Timestamp, Option<TimeZone>), Refusal> {
    let refused = || Refusal::of(field, format!("must be {}", kind.description()));
    let pieces = PARSER.parse_pieces(text).map_err(|_| refused())?;
    if pieces.time().is_none() || !(1900..2200).contains(&pieces.date().year()) {
        return Err(refused());
    }
    if pieces.time_zone_annotation().is_none() {
        let at = PARSER.parse_timestamp(text).map_err(|_| refused())?;
        return Ok((at, None));
    }
    let zones = TimeZoneDatabase::bundled();
    let Ok(zone) = pieces.to_time_zone_with(&zones) else {
        let message = "must name a known time zone in brackets, such as [America/Denver]";
        return Err(Refusal::of(field, message));
    };
    match PARSER.parse_zoned_datetime_with(&zones, text) {
        Ok(zoned) => Ok((zoned.timestamp(), Some(zoned.time_zone().clone()))),
        Err(_) => Err(Refusal::of(field, unclear(zone, &pieces))),
    }
}

fn unclear(zone: Option<TimeZone>, pieces: &jiff::fmt::temporal::Pieces<'_>) -> &'static str {
    let (Some(zone), Some(time)) = (zone, pieces.time()) else {
        return "must be an instant with offset or zone";
    };
    match zone.to_ambiguous_timestamp(pieces.date().to_datetime(time)).offset() {
        tz::AmbiguousOffset::Gap { .. } => {
            "is a local time that the change of clocks skips; give another, or one with its offset"
        }
        tz::AmbiguousOffset::Fold { .. } => {
            "is a local time that the change of clocks repeats; give its offset as well, such as \
             2026-10-25T01:30:00+00:00[Europe/London]"
        }
        tz::AmbiguousOffset::Unambiguous { .. } => "must have the offset that its zone has at that time",
    }
}
