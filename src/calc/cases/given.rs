//! Checked inputs, taken out by name.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::definition::Refusal;
use crate::calc::darkroom::dilution::Parts;
use crate::calc::darkroom::sheet::SheetSize;
use crate::calc::quantity::Bounded;

/// One checked value.
#[derive(Clone, Debug)]
pub enum Item {
    Number(f64),
    Whole(u32),
    Choice(&'static str),
    Text(String),
    Parts(Parts),
    Sheet(SheetSize),
    Sheets(Vec<(SheetSize, u32)>),
    Moment(Timestamp),
    Start(Start),
    Date(Date),
    Zone(TimeZone),
    Numbers(Vec<f64>),
    Record(Given),
    Records(Vec<Given>),
}

/// The start of a term as it was given.
#[derive(Clone, Debug)]
pub enum Start {
    /// A calendar date.
    Date(Date),
    /// An instant, with the zone it names itself.
    Moment(Timestamp, Option<TimeZone>),
}

/// The checked inputs of a case. Asking for one that was left out and has no default is refused as
/// missing, so that no function of the table can go on without it.
#[derive(Clone, Debug, Default)]
pub struct Given(pub BTreeMap<&'static str, Item>);

macro_rules! taken_out {
    ($($(#[$doc:meta])* $function:ident, $variant:ident, $type:ty;)+) => {$(
        $(#[$doc])*
        pub fn $function(&self, name: &'static str) -> Result<$type, Refusal> {
            match self.0.get(name) {
                Some(Item::$variant(value)) => Ok(value.clone()),
                _ => Err(Refusal::of(name, "is missing")),
            }
        }
    )+};
}

impl Given {
    taken_out! {
        /// A number.
        number, Number, f64;
        /// A whole number.
        whole, Whole, u32;
        /// One of the words of a choice.
        choice, Choice, &'static str;
        /// A text.
        text, Text, String;
        /// Parts.
        parts, Parts, Parts;
        /// A sheet size.
        sheet, Sheet, SheetSize;
        /// Sheets by size.
        sheets, Sheets, Vec<(SheetSize, u32)>;
        /// An instant.
        moment, Moment, Timestamp;
        /// A start.
        start, Start, Start;
        /// A date.
        date, Date, Date;
        /// A time zone.
        zone, Zone, TimeZone;
        /// A list of numbers.
        numbers, Numbers, Vec<f64>;
        /// An object.
        record, Record, Given;
        /// A list of objects.
        records, Records, Vec<Given>;
    }

    /// Whether an input is there.
    pub fn has(&self, name: &'static str) -> bool {
        self.0.contains_key(name)
    }

    /// A quantity of a type.
    pub fn get<Q: Bounded>(&self, name: &'static str) -> Result<Q, Refusal> {
        Q::bounded(self.number(name)?).map_err(|range| Refusal::of(name, range))
    }

    /// A quantity that may have been left out.
    pub fn find<Q: Bounded>(&self, name: &'static str) -> Result<Option<Q>, Refusal> {
        if self.has(name) { self.get(name).map(Some) } else { Ok(None) }
    }
}
