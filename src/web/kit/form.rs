//! A form as a page shows it: values, messages, and its controls, each with a real label.
//!
//! In a template: `{{ form.text("name", "Name").hint("as on the roster") }}`.

use askama::Template;

use crate::domain::{
    field_errors::FieldErrors,
    ids::FormId,
    instant::{FIRST_TIME, NotALocalTime, SECOND_TIME},
    measure::units::Units,
};

use super::frame::Frame;
use crate::web::{
    kit::words,
    request::posted::{FORM_ID, Posted, VERSION, sure_field, units_field, which_field},
};

/// What stands beside every remark: it outlasts the roster.
const NO_NAMES: &str = "no names of people: a remark is kept longer than they are";

/// Whether a field of this name takes words that are kept, into which somebody might type a name.
fn takes_free_words(name: &str) -> bool {
    name.starts_with("remark") || matches!(name, "why" | "reason" | "words" | "working")
}

/// Values and messages of one form.
#[derive(Clone, Debug)]
pub struct Form {
    values: Vec<(String, String)>,
    errors: FieldErrors,
    form_id: FormId,
    version: i64,
    prefix: String,
    /// In which units it is shown; a form that was sent keeps, field by field, those it was shown in.
    units: Units,
}

impl Form {
    /// An empty form.
    pub fn empty(frame: &Frame) -> Self {
        Self::filled(frame, 0, [])
    }

    /// A form filled from a record of that version (zero for a new one).
    pub fn filled<'a>(frame: &Frame, version: i64, values: impl IntoIterator<Item = (&'a str, String)>) -> Self {
        Self {
            values: values.into_iter().map(|(name, value)| (name.to_owned(), value)).collect(),
            errors: FieldErrors::none(),
            form_id: frame.form_id,
            version,
            prefix: String::new(),
            units: frame.units,
        }
    }

    /// The form as it was sent, with what is wrong.
    pub fn refused(posted: &Posted, errors: FieldErrors) -> Self {
        Self {
            values: posted.fields().to_vec(),
            errors,
            form_id: posted.form_id(),
            version: posted.version(),
            prefix: String::new(),
            units: posted.units(),
        }
    }

    /// With messages, for a form whose values came in the address rather than in a post.
    #[must_use]
    pub fn with_errors(mut self, errors: FieldErrors) -> Self {
        self.errors = errors;
        self
    }

    /// Gives the controls' ids a prefix of their own, for pages with several forms.
    #[must_use]
    pub fn prefixed(mut self, prefix: &str) -> Self {
        self.prefix = format!("{prefix}-");
        self
    }

    /// The value of a field.
    pub fn value(&self, name: &str) -> &str {
        self.values.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value)
    }

    /// Whether a field holds this value (of several with the same name).
    pub fn holds(&self, name: &str, value: &str) -> bool {
        self.values.iter().any(|(field, held)| field == name && held == value)
    }

    /// The message beside a field; empty when there is none.
    pub fn error(&self, name: &str) -> &str {
        self.errors.of(name).unwrap_or("")
    }

    /// Whether anything is wrong.
    pub fn is_refused(&self) -> bool {
        !self.errors.is_empty()
    }

    /// The hidden fields every form carries. Put it first.
    pub fn stamp(&self) -> Stamp {
        Stamp { form_id: self.form_id.to_string(), version: self.version, form_name: FORM_ID, version_name: VERSION }
    }

    /// What is wrong, as a list of links to the fields. Put it at the top.
    pub fn summary(&self) -> Summary {
        let items = self
            .errors
            .iter()
            .map(|(field, message)| {
                let target = if field.is_empty() { String::new() } else { format!("{}{field}", self.prefix) };
                (target, message.to_owned())
            })
            .collect();
        Summary { heading: "Not saved yet. What you typed is still here.", items }
    }

    /// The same under another heading, for a form that saves nothing.
    pub fn summary_of_question(&self) -> Summary {
        Summary { heading: "This could not be worked out. What you typed is still here.", ..self.summary() }
    }

    /// The id of a field's control.
    pub fn id_of(&self, name: &str) -> String {
        format!("{}{name}", self.prefix)
    }

    fn control(&self, kind: &'static str, name: &str, label: &str) -> Control {
        Control {
            kind,
            id: format!("{}{name}", self.prefix),
            name: name.to_owned(),
            label: label.to_owned(),
            value: self.value(name).to_owned(),
            error: self.error(name).to_owned(),
            hint: if takes_free_words(name) { NO_NAMES.to_owned() } else { String::new() },
            unit: String::new(),
            shown_in: "",
            options: Vec::new(),
            attributes: Vec::new(),
            checked: false,
            required: true,
            unless: "optional",
            short: false,
            rows: 6,
        }
    }

    /// One line of text.
    pub fn text(&self, name: &str, label: &str) -> Control {
        self.control("text", name, label)
    }

    /// A number, typed as text so that a comma and a unit may be typed too.
    pub fn number(&self, name: &str, label: &str) -> Control {
        let mut control = self.control("text", name, label).attribute("inputmode", "decimal");
        control.short = true;
        control
    }

    /// A volume, in the person's units.
    pub fn volume(&self, name: &str, label: &str) -> Control {
        let units = self.units_of(name);
        Control { shown_in: units.as_str(), ..self.number(name, label).unit(units.volume_sign()) }
    }

    /// A temperature, in the person's units.
    pub fn temperature(&self, name: &str, label: &str) -> Control {
        let units = self.units_of(name);
        Control { shown_in: units.as_str(), ..self.number(name, label).unit(units.degree()) }
    }

    fn units_of(&self, name: &str) -> Units {
        Units::from_word(self.value(&units_field(name))).unwrap_or(self.units)
    }

    /// Several lines of text.
    pub fn area(&self, name: &str, label: &str) -> Control {
        self.control("area", name, label)
    }

    /// A password; never shown again.
    pub fn password(&self, name: &str, label: &str) -> Control {
        let mut control = self.control("password", name, label);
        control.value.clear();
        control
    }

    /// A date.
    pub fn date(&self, name: &str, label: &str) -> Control {
        let mut control = self.control("date", name, label);
        control.short = true;
        control.text_unless(|value| value.len() == 10 && value.parse::<jiff::civil::Date>().is_ok())
    }

    /// A date and time of day.
    pub fn moment(&self, name: &str, label: &str) -> Control {
        let mut control = self.control("datetime-local", name, label);
        control.short = true;
        // only a time that the clocks showed twice has to be told apart
        let which = self.value(&which_field(name));
        if control.error == NotALocalTime::Twice.to_string() || !which.is_empty() {
            let either = [
                ("", "choose"),
                (FIRST_TIME, "the first time, before the clocks went back"),
                (SECOND_TIME, "the second time, after they went back"),
            ];
            control.options = choices(&either.map(|(value, words)| (value.to_owned(), words.to_owned())), which);
        }
        control.text_unless(|value| value.len() == 16 && value.parse::<jiff::civil::DateTime>().is_ok())
    }

    /// A file to send. The form needs `enctype="multipart/form-data"`.
    pub fn file(&self, name: &str, label: &str) -> Control {
        let mut control = self.control("file", name, label);
        control.value.clear();
        control
    }

    /// A box to tick.
    pub fn tick(&self, name: &str, label: &str) -> Control {
        let mut control = self.control("checkbox", name, label);
        control.checked = !control.value.is_empty() && control.value != "no";
        control.value = "yes".to_owned();
        control.required = false;
        control
    }

    /// The box beside a field that was [asked back](super::posted::Reader::ask_back); `None` until it was.
    pub fn sure(&self, name: &str, label: &str) -> Option<Control> {
        let box_of_it = sure_field(name);
        let asked = !self.error(&box_of_it).is_empty() || !self.value(&box_of_it).is_empty();
        asked.then(|| self.tick(&box_of_it, label))
    }

    /// One of several values, as a list that opens: `(value, words)`.
    pub fn select(&self, name: &str, label: &str, options: &[(String, String)]) -> Control {
        let mut control = self.control("select", name, label);
        control.options = choices(options, &control.value);
        control
    }

    /// One of several values, all in sight: `(value, words)`.
    pub fn radio(&self, name: &str, label: &str, options: &[(String, String)]) -> Control {
        let mut control = self.control("radio", name, label);
        control.options = choices(options, &control.value);
        control
    }
}

/// A list that opens, with the one chosen.
fn choices(options: &[(String, String)], chosen: &str) -> Vec<Choice> {
    options
        .iter()
        .map(|(value, words)| Choice { value: value.clone(), words: words.clone(), chosen: value == chosen })
        .collect()
}

/// One value of a list.
#[derive(Clone, Debug)]
pub struct Choice {
    /// What is sent.
    pub value: String,
    /// What is read.
    pub words: String,
    /// Whether it is the one chosen.
    pub chosen: bool,
}

/// The hidden fields of a form.
#[derive(Debug, Template)]
#[template(path = "parts/stamp.html")]
pub struct Stamp {
    form_id: String,
    version: i64,
    form_name: &'static str,
    version_name: &'static str,
}

/// What is wrong with a form.
#[derive(Debug, Template)]
#[template(path = "parts/summary.html")]
pub struct Summary {
    heading: &'static str,
    items: Vec<(String, String)>,
}

/// One control with its label, hint, unit and message.
#[derive(Clone, Debug, Template)]
#[template(path = "parts/control.html")]
pub struct Control {
    kind: &'static str,
    id: String,
    name: String,
    label: String,
    value: String,
    error: String,
    hint: String,
    unit: String,
    /// The units a number alone is in, sent along with it; empty where it has no choice of them.
    shown_in: &'static str,
    options: Vec<Choice>,
    attributes: Vec<(&'static str, String)>,
    checked: bool,
    required: bool,
    /// What stands after the label of a field that may be left empty.
    unless: &'static str,
    short: bool,
    rows: u8,
}

impl Control {
    /// Makes it a line of text when its value is none that the control could show: a browser would
    /// drop what was typed.
    fn text_unless(mut self, fits: impl Fn(&str) -> bool) -> Self {
        if !self.value.is_empty() && !fits(&self.value) {
            self.kind = "text";
        }
        self
    }

    /// A line of help under the label.
    #[must_use]
    pub fn hint(mut self, hint: &str) -> Self {
        self.hint = if self.hint == NO_NAMES { format!("{hint}; {NO_NAMES}") } else { hint.to_owned() };
        self
    }

    /// The unit, shown after the control.
    #[must_use]
    pub fn unit(mut self, unit: &str) -> Self {
        unit.clone_into(&mut self.unit);
        self
    }

    /// May be left empty.
    #[must_use]
    pub fn optional(mut self) -> Self {
        self.required = false;
        self
    }

    /// May be left empty in some cases only: says in a few words, after the label, in which it may not or what
    /// may stand instead.
    #[must_use]
    pub fn optional_unless(mut self, words: &'static str) -> Self {
        self.required = false;
        self.unless = words;
        self
    }

    /// A narrow control.
    #[must_use]
    pub fn short(mut self) -> Self {
        self.short = true;
        self
    }

    /// How many lines of an area are in sight.
    #[must_use]
    pub fn rows(mut self, rows: u8) -> Self {
        self.rows = rows;
        self
    }

    /// A further attribute, e.g. `autocomplete`.
    #[must_use]
    pub fn attribute(mut self, name: &'static str, value: &str) -> Self {
        self.attributes.push((name, value.to_owned()));
        self
    }

    /// Where the label is explained, when it is nothing but a word of the glossary.
    fn explained(&self) -> Option<String> {
        words::explained_word(&self.label)
    }

    /// What describes the control, for `aria-describedby`.
    fn described_by(&self) -> String {
        let mut ids = Vec::new();
        if !self.hint.is_empty() {
            ids.push(format!("{}-hint", self.id));
        }
        if !self.error.is_empty() {
            ids.push(format!("{}-error", self.id));
        }
        ids.join(" ")
    }
}

impl askama::filters::HtmlSafe for Stamp {}
impl askama::filters::HtmlSafe for Summary {}
impl askama::filters::HtmlSafe for Control {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_that_cannot_be_read_is_shown_again_as_it_was_typed() {
        let world = crate::clock::World::system();
        let form = Form {
            form_id: world.mint(),
            version: 0,
            values: vec![("at".to_owned(), "half past two".to_owned()), ("on".to_owned(), "2026-03-20".to_owned())],
            errors: FieldErrors::none(),
            prefix: String::new(),
            units: Units::Metric,
        };
        assert_eq!(form.moment("at", "When").kind, "text");
        assert_eq!(form.date("on", "Day").kind, "date");
        assert_eq!(form.moment("empty", "When").kind, "datetime-local");
    }
}
