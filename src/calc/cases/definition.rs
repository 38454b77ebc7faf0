//! What a quantity takes and gives, as data.

use serde_json::{Map, Value};

use super::checking;
use super::given::{Given, Item};
use crate::calc::quantity::Bounded;
use crate::calc::working::{Working, plain};

/// Why there are no values: the input at fault and a message that states what it must be.
#[derive(Clone, Debug, PartialEq)]
pub struct Refusal {
    pub field: String,
    pub message: String,
}

impl Refusal {
    pub fn of(field: impl Into<String>, message: impl ToString) -> Self {
        Self { field: field.into(), message: message.to_string() }
    }
}

/// What an input may be.
#[derive(Clone, Debug)]
pub enum Kind {
    /// A finite number from `min` to `max`.
    Number { min: f64, max: f64, unit: &'static str },
    /// A whole number.
    Whole { min: u32, max: u32 },
    /// One of these words.
    Choice(&'static [&'static str]),
    /// Any short text, to tell things apart.
    Label,
    /// Parts of concentrate and water.
    Parts,
    /// One sheet size.
    Sheet,
    /// Counts by sheet size.
    Sheets,
    /// An instant with its offset or zone.
    Moment,
    /// A calendar date.
    Date,
    /// A calendar date, or an instant that becomes one in a zone.
    DateOrMoment,
    /// The name of a time zone.
    Zone,
    /// Several numbers.
    Numbers { min: f64, max: f64, unit: &'static str, least: usize },
    /// An object.
    Record(Vec<Input>),
    /// Several objects of one form.
    Records { fields: Vec<Input>, least: usize },
}

/// Most entries of any list in a case.
pub const LONGEST_LIST: usize = 2000;
/// Longest label, in characters.
pub const LONGEST_LABEL: usize = 200;

impl Kind {
    /// What a value of this kind must be: "a number from 0.01 to 20 mm".
    pub fn description(&self) -> String {
        let range = |min: &f64, max: &f64, unit: &str| {
            let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
            format!("from {} to {}{unit}", plain(*min), plain(*max))
        };
        match self {
            Self::Number { min, max, unit } => format!("a number {}", range(min, max, unit)),
            Self::Whole { min, max } => format!("a whole number from {min} to {max}"),
            Self::Choice(words) => format!("one of: {}", words.join(", ")),
            Self::Label => format!("a text of 1 to {LONGEST_LABEL} characters"),
            Self::Parts => "parts such as \"1+9\", from 0.01+0 to 1000+1000".to_owned(),
            Self::Sheet => "a sheet size such as \"8x10in\" or \"9x12cm\", sides from 1 to 3000 mm".to_owned(),
            Self::Sheets => format!(
                "an object of sheet sizes and counts, such as {{\"8x10in\": 6}}, counts from 0 to {}",
                checking::MOST_SHEETS
            ),
            Self::Moment => "an instant with offset or zone, such as \"2026-03-20T12:00:00-06:00\" \
                             or \"2026-03-20T12:00:00[America/Denver]\", from 1900 to 2199"
                .to_owned(),
            Self::Date => "a date such as \"2026-03-20\", from 1900 to 2199".to_owned(),
            Self::DateOrMoment => "a date such as \"2026-03-20\", or an instant with a zone, from \
                                   1900 to 2199"
                .to_owned(),
            Self::Zone => "the name of a time zone, such as \"America/Denver\"".to_owned(),
            Self::Numbers { min, max, unit, least } => {
                format!("a list of {least} to {LONGEST_LIST} numbers {}", range(min, max, unit))
            }
            Self::Record(fields) => format!("an object with {}", names(fields)),
            Self::Records { fields, least } => {
                format!("a list of {least} to {LONGEST_LIST} objects with {}", names(fields))
            }
        }
    }
}

fn names(fields: &[Input]) -> String {
    fields.iter().map(|f| f.name).collect::<Vec<_>>().join(", ")
}

/// Whether an input may be left out.
#[derive(Clone, Debug)]
pub enum Need {
    Required,
    Optional,
    Default(Item),
}

/// One input.
#[derive(Clone, Debug)]
pub struct Input {
    pub name: &'static str,
    pub kind: Kind,
    pub need: Need,
}

impl Input {
    pub const fn required(name: &'static str, kind: Kind) -> Self {
        Self { name, kind, need: Need::Required }
    }
}

/// Sets of inputs of which one is given.
#[derive(Clone, Debug)]
pub struct Either(pub &'static [&'static [&'static str]]);

/// A quantity: what it takes, what it gives, and how.
pub struct Definition {
    pub quantity: &'static str,
    pub inputs: Vec<Input>,
    pub eithers: Vec<Either>,
    pub outputs: &'static [&'static str],
    compute: fn(&Given) -> Result<Worked, Refusal>,
}

impl Definition {
    pub const fn new(
        quantity: &'static str,
        outputs: &'static [&'static str],
        compute: fn(&Given) -> Result<Worked, Refusal>,
    ) -> Self {
        Self { quantity, inputs: Vec::new(), eithers: Vec::new(), outputs, compute }
    }

    /// An input that must be given.
    pub fn takes(mut self, name: &'static str, kind: Kind) -> Self {
        self.inputs.push(Input::required(name, kind));
        self
    }

    /// An input that may be left out.
    pub fn may_take(mut self, name: &'static str, kind: Kind) -> Self {
        self.inputs.push(Input { name, kind, need: Need::Optional });
        self
    }

    /// An input with a default.
    pub fn defaults(mut self, name: &'static str, kind: Kind, default: Item) -> Self {
        self.inputs.push(Input { name, kind, need: Need::Default(default) });
        self
    }

    /// Sets of inputs of which one is given; where the first needs nothing, it stands when none is.
    pub fn either(mut self, sets: &'static [&'static [&'static str]]) -> Self {
        self.eithers.push(Either(sets));
        self
    }

    /// Checks the inputs and computes.
    pub fn values(&self, given: &Map<String, Value>) -> Result<Map<String, Value>, Refusal> {
        let given = checking::given(self, given)?;
        (self.compute)(&given)?.finish()
    }
}

/// The kind of a quantity's number: its range and unit come from its type.
pub const fn of<Q: Bounded>() -> Kind {
    Kind::Number { min: Q::MIN, max: Q::MAX, unit: Q::UNIT }
}

/// A plain number within a range that belongs to no quantity.
pub const fn number(min: f64, max: f64, unit: &'static str) -> Kind {
    Kind::Number { min, max, unit }
}

/// What every quantity gives beside its values: an object of texts, `value` (rounded, with its unit), `formula` (with the
/// numbers put in), `source`, and `interval` where an honest one exists.
pub const WORKING: &str = "working";

/// Values under construction.
#[derive(Default)]
pub struct Values(Vec<(&'static str, Value)>);

impl Values {
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds a value: a number, a text, a truth.
    pub fn with(mut self, name: &'static str, value: impl Into<Value>) -> Self {
        self.0.push((name, value.into()));
        self
    }

    /// The values with how they came about: nothing is answered without it.
    pub fn with_working(self, working: Working) -> Worked {
        Worked { values: self.0, working }
    }
}

/// Values with their working.
pub struct Worked {
    values: Vec<(&'static str, Value)>,
    working: Working,
}

impl Worked {
    /// Values as JSON. A number that is not finite became `null` on the way: there is no answer.
    fn finish(self) -> Result<Map<String, Value>, Refusal> {
        let mut map = Map::new();
        for (name, value) in self.values {
            if value.is_null() {
                return Err(Refusal::of(name, "has no finite value for these inputs"));
            }
            map.insert(name.to_owned(), value);
        }
        let Working { value, formula, source, interval, .. } = self.working;
        let mut texts = Map::new();
        texts.insert("value".to_owned(), value.into());
        texts.insert("formula".to_owned(), formula.into());
        texts.insert("source".to_owned(), source.into());
        if let Some(interval) = interval {
            texts.insert("interval".to_owned(), interval.into());
        }
        map.insert(WORKING.to_owned(), texts.into());
        Ok(map)
    }
}
