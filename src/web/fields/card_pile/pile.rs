//! Reading a pile: every row that was touched becomes a card, or messages beside its fields.

use std::collections::HashMap;

use crate::lab::exposure::{
    cards::Card,
    told::{SHOWS_NOTHING_YET, Told},
};
use crate::{
    calc::quantity::Seconds,
    domain::{
        camera::{Camera, hole::Measurement},
        exposure::{
            Judgement,
            aim::{Aim, Spot},
            found_light::FoundLight,
            sheet_time::not_too_old,
        },
        field_errors::FieldErrors,
        ids::{CameraId, PaperId, StudentId},
        instant::{Instant, NotALocalTime},
        measure::typed_seconds::parse_seconds,
        stock::sheet::Sheet,
    },
    web::{
        fields::result_fields::{ResultNames, read_result},
        request::posted::Posted,
    },
};

use super::{Around, Typist, rows_of};

/// The fields of a row; it is empty when all of them are.
const FIELDS: [&str; 13] = [
    "camera", "student", "light", "made", "time", "sheet", "aim", "verdict", "stops", "fault", "trays", "hole",
    "remark",
];

/// A pile of cards.
#[derive(Clone, Debug)]
pub struct Pile {
    /// The cards, in the order of their rows.
    pub cards: Vec<Card>,
    /// Holes measured for cameras that had none, each with when the first of its sheets was made.
    pub holes: HashMap<CameraId, (Measurement, Instant)>,
    /// Body caps whose film is named with this pile.
    pub films: HashMap<CameraId, PaperId>,
}

/// Reads a pile.
///
/// # Errors
/// A message beside every field that is missing or cannot be, each naming its card.
pub fn read(posted: &Posted, around: &Around) -> Result<Pile, FieldErrors> {
    let touched: Vec<usize> = (1..=rows_of(posted))
        .filter(|row| FIELDS.iter().any(|field| !posted.get(&format!("{field}_{row}")).trim().is_empty()))
        .collect();
    let mut reading = Reading { posted, around, films: HashMap::new(), errors: FieldErrors::none() };
    if touched.is_empty() {
        return Err(FieldErrors::whole("no card was typed in"));
    }
    let usual_sheet = reading.usual_sheet();
    let holes = reading.holes(&touched);
    let mut cards = Vec::with_capacity(touched.len());
    for row in touched {
        if let Some(card) = reading.card(row, usual_sheet.as_ref(), &holes) {
            cards.push(card);
        }
    }
    if !reading.errors.is_empty() {
        return Err(reading.errors);
    }
    let holes = holes
        .into_iter()
        .filter_map(|(camera, measured)| {
            let first = cards.iter().filter(|card| card.camera == camera).map(|card| card.told.made_at).min()?;
            Some((camera, (measured, first)))
        })
        .collect();
    let films = reading.films;
    Ok(Pile { cards, holes, films })
}

/// A pile being read: what is wrong is gathered, beside its fields.
pub(super) struct Reading<'a> {
    pub(super) posted: &'a Posted,
    pub(super) around: &'a Around,
    films: HashMap<CameraId, PaperId>,
    pub(super) errors: FieldErrors,
}

impl<'a> Reading<'a> {
    /// What a field of a row was sent with.
    pub(super) fn sent(&self, field: &str, row: usize) -> &'a str {
        self.posted.get(&format!("{field}_{row}")).trim()
    }

    /// Notes a message beside a field of a row, naming its card.
    pub(super) fn wrong(&mut self, field: &str, row: usize, message: impl std::fmt::Display) {
        self.errors.add(format!("{field}_{row}"), format!("Card {row}: {message}"));
    }

    /// A value, or its message beside the field.
    pub(super) fn noting<T, E: std::fmt::Display>(&mut self, field: &str, row: usize, read: Result<T, E>) -> Option<T> {
        read.map_err(|error| self.wrong(field, row, error)).ok()
    }

    /// The size of sheets whose row gives none.
    fn usual_sheet(&mut self) -> Option<Sheet> {
        match self.posted.get("sheet").trim() {
            "" => None,
            typed => Sheet::parse(typed).map_err(|error| self.errors.add("sheet", error.to_string())).ok(),
        }
    }

    /// The camera of a row; `None` where it names none.
    pub(super) fn camera(&self, row: usize) -> Option<&'a Camera> {
        if self.around.typist == Typist::Partner {
            return self.around.cameras.first().map(|(camera, _)| camera);
        }
        let number: i64 = self.sent("camera", row).parse().ok()?;
        self.around.cameras.iter().map(|(camera, _)| camera).find(|camera| camera.number == number)
    }

    fn card(&mut self, row: usize, usual: Option<&Sheet>, holes: &HashMap<CameraId, Measurement>) -> Option<Card> {
        let camera = self.known_camera(row, holes);
        let student = self.student(row);
        let light = self.noting("light", row, FoundLight::parse_card(self.sent("light", row)));
        let made = self.noting("made", row, parse_seconds(self.sent("made", row)));
        let made_at = self.made_at(row, camera);
        let sheet = match (self.sent("sheet", row), usual) {
            ("", Some(usual)) => Some(usual.clone()),
            (typed, _) => self.noting("sheet", row, Sheet::parse(typed)),
        };
        let aim = self.aim(row, camera);
        let judgement = self.judgement(row);
        let developed_at = self.developed_at(row, made_at, camera);
        self.judged_when_developed(row, judgement, developed_at);
        let remark = self.remark(row);
        Some(Card {
            row,
            camera: camera?.id,
            student: student?,
            told: Told {
                aim: aim?,
                light: light?,
                made_ms: Seconds::from(made?).as_millis(),
                made_at: made_at?,
                sheet: sheet?,
                judgement: judgement?,
                developed_at: developed_at?,
                remark: remark?,
            },
        })
    }

    fn known_camera(&mut self, row: usize, holes: &HashMap<CameraId, Measurement>) -> Option<&'a Camera> {
        if self.around.typist == Typist::Partner {
            return self.camera(row);
        }
        let sent = self.sent("camera", row);
        if sent.is_empty() {
            let said = "type the camera’s number; one without a number is registered first, by the link above the rows";
            self.wrong("camera", row, said);
            return None;
        }
        let Some(camera) = self.camera(row) else {
            let first = "register it from its card first, by the link above the rows";
            self.wrong("camera", row, format!("there is no camera “{sent}” in this section: {first}"));
            return None;
        };
        let measured = self.around.cameras.iter().any(|(known, hole)| known.id == camera.id && hole.is_some());
        let typed = !self.sent("hole", row).is_empty();
        if !measured && !holes.contains_key(&camera.id) && !typed {
            self.wrong(
                "hole",
                row,
                format!("camera {} has no measured hole: type two readings or more, such as 0.46 0.50", camera.number),
            );
        }
        self.film_of(camera, row);
        Some(camera)
    }

    /// Notes the film of a body cap that has none, as the pile names it.
    fn film_of(&mut self, camera: &Camera, row: usize) {
        if self.around.loaded.contains_key(&camera.id) {
            return;
        }
        let sent = self.posted.get("film").trim();
        let offered = !sent.is_empty() && self.around.films.iter().any(|(id, _)| id == sent);
        match sent.parse::<PaperId>().ok().filter(|_| offered) {
            Some(film) => {
                self.films.insert(camera.id, film);
            }
            None => {
                let said =
                    format!("nobody has said which film camera {} holds: name it above the cards", camera.number);
                self.wrong("camera", row, said);
            }
        }
    }

    /// Where on the film it was exposed for: nothing is the middle, a word one of those named, else a point.
    fn aim(&mut self, row: usize, camera: Option<&Camera>) -> Option<Aim> {
        let sent = self.sent("aim", row);
        let spot = match sent.to_lowercase().as_str() {
            "" | "m" => Ok(Spot::Middle),
            word => match Spot::from_key(word).or_else(|| Spot::from_key(word.trim_end_matches('s'))) {
                Some(spot) => Ok(spot),
                None => Spot::parse_point(sent),
            },
        };
        let spot = spot.map_err(|_| "type middle, side, top, corner, or a point in mm such as 30 x 20");
        let spot = self.noting("aim", row, spot)?;
        let aim = Aim::at(spot, &camera?.body);
        self.noting("aim", row, aim)
    }

    fn student(&mut self, row: usize) -> Option<StudentId> {
        let sent = self.sent("student", row);
        let partners = self.around.typist == Typist::Partner;
        if let (true, [alone]) = (partners, self.around.students.as_slice()) {
            return Some(alone.id);
        }
        if sent.is_empty() {
            self.wrong("student", row, if partners { "choose whose sheet it is" } else { "type the roster number" });
            return None;
        }
        let found = self.around.students.iter().find(|student| student.roster_number == sent);
        match found {
            None if partners => self.wrong("student", row, "choose one of those offered"),
            None => self.wrong("student", row, format!("there is no roster number “{sent}” in this section")),
            Some(_) => {}
        }
        found.map(|student| student.id)
    }

    /// When it was made. What a student types in must not be older than their camera; cards that staff type in
    /// may be.
    fn made_at(&mut self, row: usize, camera: Option<&Camera>) -> Option<Instant> {
        let at = self.time("time", row)?;
        if self.around.typist == Typist::Partner {
            let made = not_too_old(at, &self.around.session, camera, &self.around.zone);
            self.noting("time", row, made)?;
        }
        Some(at)
    }

    /// A time of day on the session's date; `1:30 second` on a night when the clocks showed it twice.
    fn time(&mut self, field: &str, row: usize) -> Option<Instant> {
        let sent = self.sent(field, row);
        let (clock, which) = sent.split_once(' ').map_or((sent, ""), |(clock, which)| (clock, which.trim()));
        let read = clock.split_once([':', '.']).and_then(|(hour, minute)| {
            let digits = |part: &str, longest: usize| {
                !part.is_empty() && part.len() <= longest && part.bytes().all(|b| b.is_ascii_digit())
            };
            (digits(hour, 2) && digits(minute, 2) && minute.len() == 2)
                .then(|| format!("{}T{hour:0>2}:{minute}", self.around.session.held_on))
        });
        let at = match read.map(|local| Instant::read_local(&local, which, &self.around.zone)) {
            Some(Ok(at)) => at,
            Some(Err(NotALocalTime::Skipped)) => {
                self.wrong(field, row, NotALocalTime::Skipped);
                return None;
            }
            Some(Err(NotALocalTime::Twice)) => {
                let said =
                    "the clocks went back that night and showed this time twice: type “first” or “second” after it";
                self.wrong(field, row, format!("{said}, {clock} second"));
                return None;
            }
            Some(Err(NotALocalTime::NotATime)) | None => {
                self.wrong(field, row, "type a time of day, such as 14:30");
                return None;
            }
        };
        if at > self.posted.at() {
            self.wrong(field, row, "lies ahead: the session’s date and this time have not come yet");
            return None;
        }
        Some(at)
    }

    /// The result, read as the bench reads it.
    fn judgement(&mut self, row: usize) -> Option<Option<Judgement>> {
        let names = ResultNames::ending(&format!("_{row}"));
        let mut reader = self.posted.reader();
        let judgement = read_result(&mut reader, self.posted, &names, self.posted.at());
        match reader.finish(judgement) {
            Ok(judgement) => Some(judgement),
            Err(errors) => {
                for (field, message) in errors.iter() {
                    self.errors.add(field, format!("Card {row}: {message}"));
                }
                None
            }
        }
    }

    fn developed_at(
        &mut self,
        row: usize,
        made_at: Option<Instant>,
        camera: Option<&Camera>,
    ) -> Option<Option<Instant>> {
        let goes = self.around.has_trays && camera.is_none_or(Camera::uses_trays);
        let must_say = goes && self.around.typist == Typist::Partner;
        match self.sent("trays", row) {
            "" if must_say => {
                let said = "type when it went through, or “no”: nothing is counted in the trays before you say so";
                self.wrong("trays", row, said);
                return None;
            }
            "" => return Some(None),
            word if word.eq_ignore_ascii_case("no") => return Some(None),
            _ => {}
        }
        if !goes {
            self.wrong("trays", row, "this sheet does not go through the trays of this session: leave this empty");
            return None;
        }
        let at = self.time("trays", row)?;
        if made_at.is_some_and(|made_at| at < made_at) {
            self.wrong("trays", row, "lies before the exposure");
            return None;
        }
        Some(Some(at))
    }

    /// Before the trays a sheet shows nothing; only what spoiled it may be known. Of old cards staff know best.
    fn judged_when_developed(
        &mut self,
        row: usize,
        judgement: Option<Option<Judgement>>,
        developed_at: Option<Option<Instant>>,
    ) {
        let said_no = self.around.has_trays && developed_at == Some(None);
        let judged = judgement.flatten().is_some_and(|judged| judged.needs_trays());
        if self.around.typist == Typist::Partner && said_no && judged {
            self.wrong("verdict", row, SHOWS_NOTHING_YET);
        }
    }

    fn remark(&mut self, row: usize) -> Option<String> {
        let sent = self.sent("remark", row);
        if sent.chars().count() > 500 || sent.chars().any(char::is_control) {
            self.wrong("remark", row, "must be one line of at most 500 characters");
            return None;
        }
        Some(sent.to_owned())
    }
}
