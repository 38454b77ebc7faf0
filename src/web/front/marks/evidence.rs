//! What there is to mark: the student's camera, hole, sheets, prints and report.

use axum::{
    extract::{Path, State},
    response::Response,
};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::lab::exposure::words::result_words;
use crate::web::kit::picture::served;
use crate::{
    calc::working::seconds_text,
    domain::{
        camera::{Camera, Film},
        evening::lab_session::LabSession,
        exposure::{
            Exposure,
            print::{Print, PrintVerdict},
        },
        ids::{LabSessionId, PictureId, StudentId},
        instant::Instant,
        marking::report::{Report, ReportState, is_late},
    },
    store::{
        self,
        camera::{cameras, holes},
        exposure::{exposures, prints},
        marking::{report_pictures, reports},
    },
    web::kit::{error::WebError, state::AppState},
};

/// What a student recorded in a session, display-ready.
pub(super) struct Evidence {
    /// The camera in words; empty when none is registered.
    pub camera: String,
    /// Who shares it.
    pub partners: Vec<String>,
    /// The hole as measured, and the f-number; empty when it was not measured.
    pub hole: String,
    /// The sheets exposed in the session.
    pub sheets: Vec<SheetLine>,
    /// The contact prints made in the session.
    pub prints: Vec<PrintLine>,
    /// The report.
    pub report: ReportShown,
}

/// One sheet.
pub(super) struct SheetLine {
    pub number: i64,
    pub at: String,
    pub light: String,
    pub forecast: String,
    pub made: String,
    pub result: String,
    pub whose: &'static str,
}

/// One contact print.
pub(super) struct PrintLine {
    pub at: String,
    pub made: String,
    pub result: &'static str,
    pub whose: &'static str,
}

/// How far the report is. A draft is its writer's alone.
pub(super) enum ReportShown {
    /// Nothing was written.
    None,
    /// Begun, not handed in.
    Draft,
    /// Handed in.
    Submitted(Submitted),
}

/// A report that was handed in.
pub(super) struct Submitted {
    /// When, and whether late.
    pub when: String,
    pub late: bool,
    /// Question, unit and answer.
    pub answers: Vec<(String, String, Vec<String>)>,
    pub lines: Vec<String>,
    /// Path and words of each picture, and its size.
    pub pictures: Vec<(String, String, i64, i64)>,
}

impl Submitted {
    async fn of(
        conn: &mut SqliteConnection,
        session: &LabSession,
        report: &Report,
        at: Instant,
        zone: &TimeZone,
    ) -> Result<Self, store::Error> {
        let given = reports::list_answers(conn, report.id).await?;
        let questions = reports::list_questions(conn, session.id).await?;
        let answers = questions.into_iter().map(|question| {
            let answer = given.get(&question.id).map_or_else(Vec::new, |answer| lines_of(answer));
            (question.words, question.unit.unwrap_or_default(), answer)
        });
        let address = |picture| format!("/front/sessions/{}/marks/{}/pictures/{picture}", session.id, report.student);
        let pictures = report_pictures::list(conn, report.id).await?;
        Ok(Self {
            when: format!("Handed in {}.", at.as_words(zone)),
            late: is_late(at, reports::find_due(conn, session.id).await?),
            answers: answers.collect(),
            lines: lines_of(&report.body),
            pictures: pictures.iter().map(|it| (address(it.id), it.in_words(), it.width_px, it.height_px)).collect(),
        })
    }
}

fn lines_of(text: &str) -> Vec<String> {
    text.lines().filter(|line| !line.trim().is_empty()).map(str::to_owned).collect()
}

/// A picture of a report that was handed in.
pub(super) async fn picture(
    State(state): State<AppState>,
    Path((session, student, picture)): Path<(LabSessionId, StudentId, PictureId)>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    // a draft is its writer's alone, its pictures too
    let submitted = reports::find(&mut conn, session, student).await?.is_some_and(|it| it.state.is_submitted());
    let found = match submitted {
        true => report_pictures::find_bytes(&mut conn, session, student, picture).await?,
        false => None,
    };
    found.map(served).ok_or(WebError::NotFound("that picture"))
}

impl Evidence {
    /// Gathers it.
    pub async fn of(
        conn: &mut SqliteConnection,
        session: &LabSession,
        student: StudentId,
        zone: &TimeZone,
    ) -> Result<Self, store::Error> {
        let camera = cameras::find_of_student(conn, student).await?;
        let mut partners = Vec::new();
        let mut hole = String::new();
        if let Some(camera) = &camera {
            let holders = cameras::students_of(conn, camera.id).await?;
            partners = holders.into_iter().filter(|it| it.id != student).map(|it| it.name).collect();
            if let Some(found) = holes::find_latest(conn, camera.id).await? {
                let readings = found.measurement.readings().len();
                hole = format!(
                    "{} from {readings} readings, f/{:.0}",
                    found.measurement.diameter(),
                    found.f_number(camera.hole_to_film()).as_number()
                );
            }
        }
        let sheets = exposures::list_of_student(conn, student).await?;
        let made_prints = prints::list_of_student(conn, student).await?;
        let report = match reports::find(conn, session.id, student).await? {
            None => ReportShown::None,
            Some(report) => match report.state {
                ReportState::Draft => ReportShown::Draft,
                ReportState::Submitted { at } => {
                    ReportShown::Submitted(Submitted::of(conn, session, &report, at, zone).await?)
                }
            },
        };
        // newest first in the store; a marker reads the evening in its order
        let in_session = |it: &Exposure| it.session == session.id;
        let mut sheets: Vec<Exposure> = sheets.into_iter().filter(in_session).collect();
        sheets.sort_by_key(|sheet| (sheet.made_at, sheet.number));
        let mut made_prints: Vec<Print> = made_prints.into_iter().filter(|it| it.session == session.id).collect();
        made_prints.sort_by_key(|print| (print.made_at, print.id));
        Ok(Self {
            camera: camera.as_ref().map_or_else(String::new, camera_words),
            partners,
            hole,
            sheets: sheets.iter().map(|sheet| SheetLine::of(sheet, student, zone)).collect(),
            prints: made_prints.iter().map(|print| PrintLine::of(print, student, zone)).collect(),
            report,
        })
    }
}

fn camera_words(camera: &Camera) -> String {
    let film = match camera.film() {
        Film::FlatRectangle { distance, width, height } => {
            format!("film {} × {} at {} from the hole", width.typed, height.typed, distance.typed)
        }
        Film::FlatDisc { distance, diameter } => {
            format!("film disc of {} at {} from the hole", diameter.typed, distance.typed)
        }
        Film::Curved { inside_diameter, width, height } => {
            format!("film {} × {} round the wall, inside diameter {}", width.typed, height.typed, inside_diameter.typed)
        }
    };
    format!("Camera {}, {}: {film}", camera.number, camera.build().as_str())
}

/// Milliseconds as one says them.
fn spoken(ms: i64) -> String {
    seconds_text(ms as f64 / 1000.0)
}

impl SheetLine {
    fn of(sheet: &Exposure, student: StudentId, zone: &TimeZone) -> Self {
        let (low, high) = (spoken(sheet.forecast_low_ms), spoken(sheet.forecast_high_ms));
        Self {
            number: sheet.number,
            at: sheet.made_at.as_time(zone),
            light: sheet.light_typed.clone(),
            forecast: format!("{} ({low} to {high})", spoken(sheet.forecast_ms)),
            made: spoken(sheet.made_ms),
            result: result_words(sheet),
            whose: whose(sheet.student, student),
        }
    }
}

impl PrintLine {
    fn of(print: &Print, student: StudentId, zone: &TimeZone) -> Self {
        Self {
            at: print.made_at.as_time(zone),
            made: spoken(print.made_ms),
            result: print.verdict.map_or("not looked at yet", PrintVerdict::as_str),
            whose: whose(print.student, student),
        }
    }
}

fn whose(of: Option<StudentId>, student: StudentId) -> &'static str {
    match of {
        Some(of) if of == student => "own",
        Some(_) => "partner’s",
        None => "the camera’s",
    }
}
