//! What a form sent: its fields, its id, and a reader that turns fields into values or messages.

use std::{ops::RangeInclusive, sync::Arc};

use axum::{
    body::Bytes,
    extract::{FromRequest, Multipart, Request, multipart::MultipartError},
    http::{StatusCode, header},
};
use jiff::tz::TimeZone;
use sha2::{Digest, Sha256};

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{FormId, Id},
        instant::Instant,
        measure::{
            decimal,
            length::{Length, LengthUnit},
            units::Units,
            volume,
        },
        people::actor::Actor,
    },
    store::{Stamp, people::sign_ins::Person},
};

use super::takes::{self, Takes};
use crate::web::kit::{access::Recognised, error::WebError, state::AppState};

/// The hidden field that carries the form's id.
pub const FORM_ID: &str = "form_id";
/// The hidden field that carries the version of the record being edited.
pub const VERSION: &str = "version";

/// What a form sent.
#[derive(Clone, Debug)]
pub struct Posted {
    fields: Vec<(String, String)>,
    /// Pictures, by field; what is hashed for the receipt stands among the fields.
    pictures: Vec<(String, Bytes)>,
    form_id: FormId,
    actor: Actor,
    route: String,
    at: Instant,
    /// In which units whoever sent it reads.
    units: Units,
    pepper: Arc<[u8; 32]>,
    /// What was longer than its field may be, of which only the beginning is here.
    cut: FieldErrors,
}

/// Whether a field holds a secret: never shown again, never kept where it could be guessed from.
fn secret(name: &str) -> bool {
    name.contains("password") || name.contains("key")
}

impl Posted {
    /// The first value of a field as it was sent; empty when it was not.
    pub fn get(&self, name: &str) -> &str {
        self.fields.iter().find(|(field, _)| field == name).map_or("", |(_, value)| value)
    }

    /// Every value of a field, e.g. ticked boxes.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.fields.iter().filter(move |(field, _)| field == name).map(|(_, value)| value.as_str())
    }

    /// The picture sent in a field; `None` when none was, or what was sent is no picture by its kind.
    pub fn picture(&self, name: &str) -> Option<Bytes> {
        self.pictures.iter().find(|(field, _)| field == name).map(|(_, bytes)| bytes.clone())
    }

    /// Whether a box was ticked.
    pub fn ticked(&self, name: &str) -> bool {
        !self.get(name).is_empty()
    }

    /// What is said beside fields of which only the beginning fitted; such a form is never saved.
    pub fn cut(&self) -> &FieldErrors {
        &self.cut
    }

    /// Everything that was sent, in order.
    pub fn fields(&self) -> &[(String, String)] {
        &self.fields
    }

    /// What a person typed, for showing it again: no ids, no secrets, nothing empty.
    pub fn typed(&self) -> Vec<(String, String)> {
        let units_of_a_field = |name: &str, value: &str| name.ends_with("_in") && Units::from_word(value).is_some();
        let hidden = |name: &str, value: &str| {
            name == FORM_ID || name == VERSION || secret(name) || units_of_a_field(name, value)
        };
        self.fields.iter().filter(|(name, value)| !hidden(name, value) && !value.is_empty()).cloned().collect()
    }

    /// The form's id.
    pub fn form_id(&self) -> FormId {
        self.form_id
    }

    /// The version of the record that was on the page; zero when the form edits none.
    pub fn version(&self) -> i64 {
        self.get(VERSION).parse().unwrap_or(0)
    }

    /// In which units whoever sent it reads.
    pub fn units(&self) -> Units {
        self.units
    }

    /// In which units a field was shown: those that the form says, else the person's own.
    pub fn units_of(&self, field: &str) -> Units {
        Units::from_word(self.get(&units_field(field))).unwrap_or(self.units)
    }

    /// When it arrived.
    pub fn at(&self) -> Instant {
        self.at
    }

    /// Who sent it.
    pub fn actor(&self) -> Actor {
        self.actor
    }

    /// The stamp under which it is written.
    pub fn stamp(&self) -> Stamp {
        let mut hasher = Sha256::new();
        for (name, value) in self.fields.iter().filter(|(name, _)| name != FORM_ID) {
            for part in [name, value] {
                hasher.update((part.len() as u64).to_be_bytes());
                hasher.update(part.as_bytes());
            }
            // the receipt's hash is a quick one: without this a stolen file would tell passwords
            if secret(name) {
                hasher.update(*self.pepper);
            }
        }
        Stamp {
            form_id: self.form_id,
            actor: self.actor,
            route: self.route.clone(),
            body_hash: hasher.finalize().into(),
            at: self.at,
            receipt: true,
            cut: self.cut.clone(),
        }
    }

    /// Starts reading values out of it.
    pub fn reader(&self) -> Reader<'_> {
        Reader { posted: self, errors: self.cut.clone() }
    }
}

impl FromRequest<AppState> for Posted {
    type Rejection = WebError;

    async fn from_request(request: Request, state: &AppState) -> Result<Self, WebError> {
        let (parts, body) = request.into_parts();
        let recognised = parts.extensions.get::<Recognised>().cloned().unwrap_or_default();
        let actor = match recognised.person() {
            Some(Person::Staff { id, .. }) => Actor::Staff(*id),
            Some(Person::Student { id, .. }) => Actor::Student(*id),
            None => Actor::Visitor,
        };
        let route = format!("{} {}", parts.method, parts.uri.path());
        let kind = parts.headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
        let takes = parts.extensions.get::<Takes>().copied().unwrap_or(Takes::DOOR);
        let mut pictures = Vec::new();
        let sent = if parts.method.is_safe() {
            // a form that is still being typed into, shown as far as it goes
            let query = parts.uri.query().unwrap_or_default();
            parsed(query.as_bytes(), takes)?
        } else if is_kind(kind, "multipart/form-data") {
            read_multipart(Request::from_parts(parts, body), state, takes, &mut pictures).await?
        } else if is_kind(kind, "application/x-www-form-urlencoded") {
            parsed(&read_body(Request::from_parts(parts, body), state).await?, takes)?
        } else {
            // a button without fields, sent by a script, has no kind and nothing to read
            if !kind.is_empty() || !read_body(Request::from_parts(parts, body), state).await?.is_empty() {
                return Err(WebError::NotAForm);
            }
            Vec::new()
        };
        let (fields, cut) = fitting(sent, takes)?;
        let carried = fields.iter().find(|(name, _)| name == FORM_ID).and_then(|(_, value)| value.parse().ok());
        // a script that sends no id gets one of its own: it asks for no protection against repeats
        let form_id = carried.unwrap_or_else(|| state.mint());
        let units = recognised.sign_in().map(|sign_in| sign_in.units).unwrap_or_default();
        Ok(Self { fields, pictures, form_id, actor, route, at: state.now(), units, pepper: state.pepper.clone(), cut })
    }
}

/// Whether a content type is this one, whatever its parameters.
fn is_kind(content_type: &str, kind: &str) -> bool {
    content_type.split(';').next().unwrap_or_default().trim().eq_ignore_ascii_case(kind)
}

/// The body, as far as its route takes it.
async fn read_body(request: Request, state: &AppState) -> Result<Bytes, WebError> {
    Bytes::from_request(request, state).await.map_err(|_| WebError::TooLarge)
}

fn parsed(encoded: &[u8], takes: Takes) -> Result<Vec<(String, String)>, WebError> {
    if encoded.iter().filter(|byte| **byte == b'&').count() >= takes.fields {
        return Err(WebError::TooLarge);
    }
    Ok(form_urlencoded::parse(encoded).map(|(name, value)| (name.into_owned(), tidy(&value))).collect())
}

/// Fields as far as they fit, and what is said beside those that do not.
fn fitting(sent: Vec<(String, String)>, takes: Takes) -> Result<(Vec<(String, String)>, FieldErrors), WebError> {
    if sent.len() > takes.fields {
        return Err(WebError::TooLarge);
    }
    let (mut fields, mut cut) = (Vec::with_capacity(sent.len()), FieldErrors::none());
    for (name, value) in sent {
        if name.len() > takes::LONGEST_NAME {
            return Err(WebError::BrokenForm);
        }
        let value = match takes.cut(&value) {
            None => value,
            Some(kept) => {
                cut.add(name.clone(), takes::too_long(kept));
                kept.to_owned()
            }
        };
        fields.push((name, value));
    }
    Ok((fields, cut))
}

fn unreadable(error: MultipartError) -> WebError {
    if error.status() == StatusCode::PAYLOAD_TOO_LARGE { WebError::TooLarge } else { WebError::BrokenForm }
}

async fn read_multipart(
    request: Request,
    state: &AppState,
    takes: Takes,
    pictures: &mut Vec<(String, Bytes)>,
) -> Result<Vec<(String, String)>, WebError> {
    let mut multipart = Multipart::from_request(request, state).await.map_err(|_| WebError::BrokenForm)?;
    let mut fields = Vec::new();
    while let Some(field) = multipart.next_field().await.map_err(unreadable)? {
        if fields.len() >= takes.fields {
            return Err(WebError::TooLarge);
        }
        let name = field.name().unwrap_or_default().to_owned();
        let is_picture = field.content_type().is_some_and(|kind| kind.starts_with("image/"));
        let bytes = field.bytes().await.map_err(unreadable)?;
        if is_picture {
            // the same picture sent again is the same sending: its digest stands for it
            let digest = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect::<String>();
            fields.push((name.clone(), format!("picture {}", &digest[..16])));
            pictures.push((name, bytes));
            continue;
        }
        // a byte-order mark is no part of the text
        let text = String::from_utf8_lossy(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes)).into_owned();
        fields.push((name, tidy(&text)));
    }
    Ok(fields)
}

/// One newline style, so that the same text gives the same receipt.
fn tidy(value: &str) -> String {
    value.replace("\r\n", "\n").replace('\r', "\n")
}

/// The field that says which of two times a clock showed twice is meant.
pub fn which_field(field: &str) -> String {
    format!("{field}_which")
}

/// The field that says in which units another one was shown, so that a bare number means what its label said even when the
/// person has chosen other units since.
pub fn units_field(field: &str) -> String {
    format!("{field}_in")
}

/// The box that says that a field which was asked back is right.
pub fn sure_field(field: &str) -> String {
    format!("{field}_sure")
}

/// Reads fields into values; what is wrong is gathered, not thrown, so that a person sees all of
/// it at once. Each method gives `None` after noting a message; [`Reader::finish`] ends it.
#[derive(Debug)]
pub struct Reader<'a> {
    posted: &'a Posted,
    errors: FieldErrors,
}

impl<'a> Reader<'a> {
    /// Notes a message beside a field.
    pub fn wrong(&mut self, field: &str, message: impl Into<String>) {
        self.errors.add(field, message);
    }

    /// The trimmed value, as typed.
    pub fn raw(&self, field: &str) -> &'a str {
        self.posted.get(field).trim()
    }

    /// One line of text of so many characters.
    pub fn text(&mut self, field: &str, length: RangeInclusive<usize>) -> Option<String> {
        self.written(field, length, false)
    }

    /// Text that may have several lines.
    pub fn lines(&mut self, field: &str, length: RangeInclusive<usize>) -> Option<String> {
        self.written(field, length, true)
    }

    fn written(&mut self, field: &str, length: RangeInclusive<usize>, several: bool) -> Option<String> {
        let text = self.raw(field);
        let odd = |c: char| c.is_control() && !(several && (c == '\n' || c == '\t'));
        if text.chars().any(odd) {
            self.wrong(field, "has a character that cannot be shown; type it again");
            return None;
        }
        let count = text.chars().count();
        if count == 0 && *length.start() > 0 {
            self.wrong(field, "must not be empty");
            return None;
        }
        if !length.contains(&count) {
            let (least, most) = (length.start(), length.end());
            let allowed = if *least <= 1 { format!("at most {most}") } else { format!("from {least} to {most}") };
            self.wrong(field, format!("must have {allowed} characters; this has {count}"));
            return None;
        }
        Some(text.to_owned())
    }

    /// A whole number within a range.
    pub fn whole(&mut self, field: &str, range: RangeInclusive<i64>) -> Option<i64> {
        let number = self.raw(field).parse::<i64>().ok().filter(|number| range.contains(number));
        if number.is_none() {
            self.wrong(field, format!("must be a whole number from {} to {}", range.start(), range.end()));
        }
        number
    }

    /// Whether a number has one reading only; notes a message when it has two.
    fn read_one_way(&mut self, field: &str) -> bool {
        decimal::read_one_way(self.raw(field)).map_err(|error| self.wrong(field, error.to_string())).is_ok()
    }

    /// A number within a range; a decimal comma is a point.
    pub fn number(&mut self, field: &str, range: RangeInclusive<f64>) -> Option<f64> {
        if !self.read_one_way(field) {
            return None;
        }
        let plain = self.raw(field).replace(',', ".");
        let number = plain.parse::<f64>().ok().filter(|number| number.is_finite() && range.contains(number));
        if number.is_none() {
            self.wrong(field, format!("must be a number from {} to {}", range.start(), range.end()));
        }
        number
    }

    /// As [`Reader::number`], or nothing when the field is empty: `Some(None)`.
    pub fn optional_number(&mut self, field: &str, range: RangeInclusive<f64>) -> Option<Option<f64>> {
        if self.raw(field).is_empty() { Some(None) } else { self.number(field, range).map(Some) }
    }

    /// A number kept as a whole number of its place `places` after the point, within a range given
    /// in the same way: `decimal("index", 3, 10..=100_000_000)` reads `6.5` as 6500.
    pub fn decimal(&mut self, field: &str, places: u32, range: RangeInclusive<i64>) -> Option<i64> {
        if !self.read_one_way(field) {
            return None;
        }
        let value = decimal::read(self.raw(field), places).ok().filter(|value| range.contains(value));
        if value.is_none() {
            let (low, high) = (decimal::written(*range.start(), places), decimal::written(*range.end(), places));
            self.wrong(field, format!("must be a number from {low} to {high}"));
        }
        value
    }

    /// As [`Reader::decimal`], or nothing when the field is empty: `Some(None)`.
    pub fn optional_decimal(&mut self, field: &str, places: u32, range: RangeInclusive<i64>) -> Option<Option<i64>> {
        if self.raw(field).is_empty() { Some(None) } else { self.decimal(field, places, range).map(Some) }
    }

    /// A length with its unit, within a range; beside it what was typed, with the unit written out.
    pub fn length(&mut self, field: &str, unit: LengthUnit, low_mm: f64, high_mm: f64) -> Option<(Length, String)> {
        self.length_such_as(field, unit, low_mm..=high_mm, "")
    }

    /// As [`Reader::length`], with examples that fit the field at the end of its message.
    pub fn length_such_as(
        &mut self,
        field: &str,
        unit: LengthUnit,
        range_mm: RangeInclusive<f64>,
        examples: &str,
    ) -> Option<(Length, String)> {
        let (low_mm, high_mm) = range_mm.into_inner();
        let typed = self.raw(field);
        match Length::parse(typed, unit, Length::from_mm(low_mm), Length::from_mm(high_mm)) {
            Ok(length) => {
                let bare = typed.chars().all(|c| c.is_ascii_digit() || ".,/ ".contains(c));
                let kept = if bare { format!("{typed} {}", unit.sign()) } else { typed.to_owned() };
                Some((length, kept))
            }
            Err(error) => {
                self.wrong(field, error.such_as(examples));
                None
            }
        }
    }

    /// A volume in microlitres: a number alone in the units in which the field was shown. `kept` is the volume that it began
    /// with: the text unchanged means that volume, of which it showed no more than a graduate does.
    pub fn volume(&mut self, field: &str, kept: Option<i64>, range: RangeInclusive<i64>) -> Option<i64> {
        let (typed, units) = (self.raw(field), self.posted.units_of(field));
        if let Some(kept) = kept.filter(|ul| units.volume_typed(*ul) == typed && range.contains(ul)) {
            return Some(kept);
        }
        units
            .read_volume(typed, *range.start(), *range.end())
            .map_err(|error| self.wrong(field, error.to_string()))
            .ok()
    }

    /// A volume up to the most that is accepted at once, or nothing when the field is empty: `Some(None)`.
    pub fn optional_volume(&mut self, field: &str, kept: Option<i64>, least_ul: i64) -> Option<Option<i64>> {
        if self.raw(field).is_empty() {
            return Some(None);
        }
        self.volume(field, kept, least_ul..=volume::MOST_UL).map(Some)
    }

    /// A temperature in thousandths of a degree Celsius, in the same way; nothing when the field is empty: `Some(None)`.
    pub fn optional_temperature(&mut self, field: &str, kept: Option<i64>) -> Option<Option<i64>> {
        let (typed, units) = (self.raw(field), self.posted.units_of(field));
        if typed.is_empty() {
            return Some(None);
        }
        if let Some(kept) = kept.filter(|milli_c| units.degrees(*milli_c) == typed) {
            return Some(Some(kept));
        }
        units.read_temperature(typed).map_err(|error| self.wrong(field, error.to_string())).ok().map(Some)
    }

    /// A date and time of a `datetime-local` control, in the site's zone; in the hour that the clocks show
    /// twice, with what the choice beside it says.
    pub fn local_time(&mut self, field: &str, zone: &TimeZone) -> Option<Instant> {
        let which = self.raw(&which_field(field));
        match Instant::read_local(self.raw(field), which, zone) {
            Ok(instant) => Some(instant),
            Err(error) => {
                self.wrong(field, error.to_string());
                None
            }
        }
    }

    /// A date of a `date` control.
    pub fn date(&mut self, field: &str) -> Option<jiff::civil::Date> {
        let date =
            self.raw(field).parse::<jiff::civil::Date>().ok().filter(|date| (1970..=9998).contains(&date.year()));
        if date.is_none() {
            self.wrong(field, "must be a date, for example 2026-03-20");
        }
        date
    }

    /// Asks back what may well be a slip and cannot be known to be one: refused beside its field until the box
    /// beside it, [`sure_field`], is ticked.
    pub fn ask_back(&mut self, field: &str, message: impl Into<String>) {
        if !self.posted.ticked(&sure_field(field)) {
            self.wrong(field, message);
            self.wrong(&sure_field(field), "tick this if it is right");
        }
    }

    /// One of the choices offered.
    pub fn choice<T>(&mut self, field: &str, read: impl Fn(&str) -> Option<T>) -> Option<T> {
        let value = read(self.raw(field));
        if value.is_none() {
            self.wrong(field, "choose one of those offered");
        }
        value
    }

    /// An id of the records offered.
    pub fn id<T: Id + std::str::FromStr>(&mut self, field: &str) -> Option<T> {
        self.choice(field, |text| text.parse().ok())
    }

    /// What was read, if nothing was wrong.
    ///
    /// # Errors
    /// All messages, when there are any.
    pub fn finish<T>(mut self, value: Option<T>) -> Result<T, FieldErrors> {
        match value {
            Some(value) if self.errors.is_empty() => Ok(value),
            _ => {
                if self.errors.is_empty() {
                    self.errors.add("", "something in this form could not be read");
                }
                Err(self.errors)
            }
        }
    }
}
