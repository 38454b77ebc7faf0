//! What a session has so far, beneath the rows: each sheet with the number that belongs on its back.

use std::collections::HashMap;

use askama::Template;

use crate::{
    domain::{
        exposure::Exposure,
        ids::{CameraId, ExposureId, StudentId},
        measure::typed_seconds::exactly,
        people::student::Student,
    },
    lab::exposure::words::result_words,
};

use super::{Around, Typist};

/// The sheets of a session.
#[derive(Debug, Template)]
#[template(path = "parts/card_sheets.html")]
pub struct SessionSheets {
    /// Whether each names its camera.
    cameras: bool,
    caption: &'static str,
    lines: Vec<SheetLine>,
}

impl askama::filters::HtmlSafe for SessionSheets {}

#[derive(Debug)]
struct SheetLine {
    path: String,
    number: i64,
    camera: String,
    student: String,
    made_at: String,
    light: String,
    made: String,
    sheet: String,
    result: String,
}

impl SessionSheets {
    /// Those sheets; `path` leads from one to where it is put right.
    pub fn of(around: &Around, exposures: &[Exposure], path: impl Fn(ExposureId) -> String) -> Self {
        let cameras: HashMap<CameraId, i64> =
            around.cameras.iter().map(|(camera, _)| (camera.id, camera.number)).collect();
        let students: HashMap<StudentId, &Student> =
            around.students.iter().map(|student| (student.id, student)).collect();
        let line = |exposure: &Exposure| SheetLine {
            path: path(exposure.id),
            number: exposure.number,
            camera: cameras.get(&exposure.camera).map_or_else(String::new, i64::to_string),
            student: exposure
                .student
                .and_then(|id| students.get(&id))
                .map_or_else(String::new, |student| format!("{} {}", student.roster_number, student.name)),
            made_at: exposure.made_at.as_words(&around.zone),
            light: exposure.light_typed.clone(),
            made: exactly(exposure.made_ms),
            sheet: exposure.sheet.typed.clone(),
            result: result_words(exposure),
        };
        Self {
            cameras: around.typist == Typist::Staff,
            caption: match around.typist {
                Typist::Staff => "recorded so far, typed in here or at the bench; a number leads to its correction",
                Typist::Partner => "of yours and of the camera you share; a number leads to the sheet",
            },
            lines: exposures.iter().map(line).collect(),
        }
    }
}
