//! The dimensions of a camera as a form sends them and as it shows them.

use crate::domain::marking::own_figure::Reveals;
use crate::lab::camera::registering::NewCamera;
use crate::{
    calc::{
        quantity::{Bounded, FilmSide, HoleToFilm, InsideDiameter},
        working::figures,
    },
    domain::{
        camera::{Body, Build, Camera, Film, Typed, subject_distance},
        field_errors::FieldErrors,
        ids::{CameraId, SectionId},
        measure::length::{Length, LengthUnit},
    },
    web::{
        kit::reading::Reading,
        request::posted::{Posted, Reader},
    },
};

/// Build and form of the film together: what a student chooses first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Choice {
    /// A box.
    Box,
    /// A can with the hole in one end, round film in the other.
    EndHoleCanDisc,
    /// A can with the hole in one end, rectangular film in the other.
    EndHoleCanRectangle,
    /// A can with the hole in its side.
    SideHoleCan,
    /// A camera body with the hole in its cap.
    BodyCap,
}

impl Choice {
    /// All of them, the simplest first.
    pub const ALL: [Self; 5] =
        [Self::Box, Self::SideHoleCan, Self::EndHoleCanDisc, Self::EndHoleCanRectangle, Self::BodyCap];

    /// What a form sends.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Box => "box",
            Self::EndHoleCanDisc => "end-hole can disc",
            Self::EndHoleCanRectangle => "end-hole can rectangle",
            Self::SideHoleCan => "side-hole can",
            Self::BodyCap => "body cap",
        }
    }

    /// In plain words.
    fn words(self) -> &'static str {
        match self {
            Self::Box => "A box: hole in one wall, paper flat on the wall opposite",
            Self::EndHoleCanDisc => "A can with the hole in one end: paper cut round, flat in the other end",
            Self::EndHoleCanRectangle => "A can with the hole in one end: paper cut square, flat in the other end",
            Self::SideHoleCan => "A round can with the hole in its side: paper bent along the wall opposite",
            Self::BodyCap => "A camera body without its lens: hole in a body cap, film from a cassette",
        }
    }

    /// From what a form sent; a bare `end-hole can` is told apart by whether a disc's diameter came.
    fn from_word(word: &str, disc: bool) -> Option<Self> {
        match word {
            "end-hole can" if disc => Some(Self::EndHoleCanDisc),
            "end-hole can" => Some(Self::EndHoleCanRectangle),
            _ => Self::ALL.into_iter().find(|choice| choice.as_str() == word),
        }
    }

    /// The choice a camera was.
    pub fn of(body: &Body) -> Self {
        match (body.build(), body.film()) {
            (_, Film::FlatDisc { .. }) => Self::EndHoleCanDisc,
            (_, Film::Curved { .. }) => Self::SideHoleCan,
            (Build::EndHoleCan, _) => Self::EndHoleCanRectangle,
            (Build::BodyCap, _) => Self::BodyCap,
            (Build::Box | Build::SideHoleCan, _) => Self::Box,
        }
    }

    fn build(self) -> Build {
        match self {
            Self::Box => Build::Box,
            Self::EndHoleCanDisc | Self::EndHoleCanRectangle => Build::EndHoleCan,
            Self::SideHoleCan => Build::SideHoleCan,
            Self::BodyCap => Build::BodyCap,
        }
    }
}

/// The choices as the form lists them.
pub fn choices() -> Vec<(String, String)> {
    Choice::ALL.iter().map(|choice| (choice.as_str().to_owned(), choice.words().to_owned())).collect()
}

/// A camera's dimensions, read and checked.
#[derive(Clone, Debug)]
pub struct Dimensions {
    /// Build and film.
    pub body: Body,
    /// How far the subject is; `None` for far away.
    pub subject: Option<Typed>,
    /// Anything else.
    pub remark: String,
}

impl Dimensions {
    /// The camera of these dimensions, to be registered in a section.
    pub fn camera(self, id: CameraId, section: SectionId) -> NewCamera {
        let Self { body, subject, remark } = self;
        NewCamera { id, section, body, subject, remark }
    }
}

/// Reads the dimensions out of a form.
///
/// # Errors
/// All messages, each beside its field.
pub fn read(posted: &Posted, unit: LengthUnit) -> Result<Dimensions, FieldErrors> {
    let mut r = posted.reader();
    let disc = !posted.get("diameter").trim().is_empty();
    let choice = Choice::from_word(posted.get("build").trim(), disc);
    if choice.is_none() {
        r.wrong("build", "choose what your camera is made from");
    }
    let film = choice.and_then(|choice| film(&mut r, choice, unit));
    let body = choice.zip(film).and_then(|(choice, film)| match Body::new(choice.build(), film) {
        Ok(body) => Some(body),
        Err(errors) => {
            errors.iter().for_each(|(field, message)| r.wrong(field, message));
            None
        }
    });
    let subject = subject(&mut r, unit);
    let remark = r.lines("remark", 0..=500);
    r.finish((|| Some(Dimensions { body: body?, subject: subject?, remark: remark? }))())
}

fn film(r: &mut Reader<'_>, choice: Choice, unit: LengthUnit) -> Option<Film> {
    match choice {
        Choice::Box | Choice::BodyCap | Choice::EndHoleCanRectangle => {
            let distance = length::<HoleToFilm>(r, "distance", unit);
            let least = if choice == Choice::BodyCap { FilmSide::MIN } else { LEAST_SHEET_MM };
            let (width, height) = (side(r, "width", unit, least), side(r, "height", unit, least));
            Some(Film::FlatRectangle { distance: distance?, width: width?, height: height? })
        }
        Choice::EndHoleCanDisc => {
            let distance = length::<HoleToFilm>(r, "distance", unit);
            let diameter = length::<FilmSide>(r, "diameter", unit);
            Some(Film::FlatDisc { distance: distance?, diameter: diameter? })
        }
        Choice::SideHoleCan => {
            let inside = length::<InsideDiameter>(r, "inside_diameter", unit);
            let (width, height) = (side(r, "width", unit, LEAST_SHEET_MM), side(r, "height", unit, LEAST_SHEET_MM));
            Some(Film::Curved { inside_diameter: inside?, width: width?, height: height? })
        }
    }
}

/// The shortest side of a sheet in a box or a can, millimetres: 4 and 5 typed for inches are no sheet.
/// Our own judgement, no source.
const LEAST_SHEET_MM: f64 = 15.0;

fn side(r: &mut Reader<'_>, field: &str, unit: LengthUnit, least_mm: f64) -> Option<Typed> {
    r.length(field, unit, least_mm, FilmSide::MAX).map(Typed::from)
}

fn length<Q: Bounded>(r: &mut Reader<'_>, field: &str, unit: LengthUnit) -> Option<Typed> {
    r.length(field, unit, Q::MIN, Q::MAX).map(Typed::from)
}

/// `Some(None)` when it was left empty.
fn subject(r: &mut Reader<'_>, unit: LengthUnit) -> Option<Option<Typed>> {
    if r.raw("subject").is_empty() {
        return Some(None);
    }
    // the range is judged below, with a message of its own
    let typed = Typed::from(r.length("subject", unit, 0.0, 1e9)?);
    match subject_distance(&typed) {
        Ok(_) => Some(Some(typed)),
        Err(errors) => {
            errors.iter().for_each(|(field, message)| r.wrong(field, message));
            None
        }
    }
}

/// The form's fields filled from a camera.
pub fn values(camera: &Camera) -> Vec<(&'static str, String)> {
    let mut values = vec![("build", Choice::of(&camera.body).as_str().to_owned()), ("remark", camera.remark.clone())];
    let mut put = |field, typed: &Typed| values.push((field, typed.typed.clone()));
    match camera.film() {
        Film::FlatRectangle { distance, width, height } => {
            put("distance", distance);
            put("width", width);
            put("height", height);
        }
        Film::FlatDisc { distance, diameter } => {
            put("distance", distance);
            put("diameter", diameter);
        }
        Film::Curved { inside_diameter, width, height } => {
            put("inside_diameter", inside_diameter);
            put("width", width);
            put("height", height);
        }
    }
    if let Some(subject) = &camera.subject {
        put("subject", subject);
    }
    values
}

/// What was measured, in words: name and value, as typed.
pub fn facts(body: &Body, subject: Option<&Typed>) -> Vec<(&'static str, String)> {
    let mut facts = vec![("Build", body.build().as_str().to_owned())];
    let mut put = |name, typed: &Typed| facts.push((name, in_words(typed)));
    match body.film() {
        Film::FlatRectangle { distance, width, height } => {
            put("Hole to film", distance);
            put("Film width", width);
            put("Film height", height);
        }
        Film::FlatDisc { distance, diameter } => {
            put("Hole to film", distance);
            put("Film across", diameter);
        }
        Film::Curved { inside_diameter, width, height } => {
            put("Inside diameter", inside_diameter);
            put("Film along the wall", width);
            put("Film height", height);
        }
    }
    facts.push(("Subject", subject.map_or_else(|| "far away".to_owned(), in_words)));
    facts
}

/// What has to be said of a subject that is nearer to the hole than the film is.
pub fn larger_than_life(camera: &Camera) -> Option<Reading> {
    let times = camera.larger_than_life()?;
    Some(Reading::plain("Picture larger than life", format!("{} times", figures(times, 3)), Reveals::NOTHING).remark(
        "the subject is nearer to the hole than the film is, so it comes out larger than it is, and a long exposure is \
         needed. Did you measure from the film? Measure from the hole outward; leave it empty for far away",
    ))
}

/// As typed, and in millimetres when that was another unit.
fn in_words(typed: &Typed) -> String {
    if typed.typed.trim_end().ends_with("mm") {
        typed.typed.clone()
    } else {
        format!("{} ({})", typed.typed, Length::from_nm(typed.length.as_nm()))
    }
}

/// Both versions of a camera, field by field, for somebody whose page was stale.
pub fn both_versions(sent: &Dimensions, stored: &Camera) -> Vec<(String, String, String)> {
    let mut rows: Vec<(String, String, String)> = Vec::new();
    let remark = |text: &str| [("Remark", text.to_owned())];
    let sent_facts = facts(&sent.body, sent.subject.as_ref()).into_iter().chain(remark(&sent.remark));
    let stored_facts: Vec<_> =
        facts(&stored.body, stored.subject.as_ref()).into_iter().chain(remark(&stored.remark)).collect();
    for (name, value) in sent_facts {
        let saved = stored_facts.iter().find(|(other, _)| *other == name).map_or("", |(_, value)| value.as_str());
        rows.push((name.to_owned(), value, saved.to_owned()));
    }
    for (name, value) in &stored_facts {
        if !rows.iter().any(|(other, _, _)| other == name) {
            rows.push(((*name).to_owned(), String::new(), value.clone()));
        }
    }
    rows
}
