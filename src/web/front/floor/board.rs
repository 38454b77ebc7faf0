//! The lines of the board, derived from the records.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::{
    calc::working::{seconds_text, stops_text},
    domain::{
        camera::Camera,
        evening::{
            help_call::HelpCall,
            lab_session::{LabSession, SessionState},
            next_step::{Progress, Step, StepState, UnderWay},
            sheet_way::SheetWay,
        },
        exposure::{Exposure, verdict::Verdict},
        ids::{CameraId, ExposureId, HelpCallId, StudentId},
        instant::Instant,
        people::student::Student,
    },
    drawing::camera_outline::CameraOutline,
    store::{
        camera::{cameras, holes},
        evening::{help_calls, sheet_ways},
        exposure::{exposures, prints},
        marking::reports,
        people::{change_log, students},
    },
    web::kit::error::WebError,
};

/// So long without a record, and somebody may be stuck (our own judgement); past the longer time
/// the evening is over and nobody is.
const QUIET_MINUTES: std::ops::Range<i64> = 20..360;

/// The lines of the board, by camera number; those without a camera after them.
pub(super) struct Board {
    pub(super) lines: Vec<Line>,
}

/// One set of partners.
pub(super) struct Line {
    pub(super) partners: Vec<Partner>,
    pub(super) camera: String,
    pub(super) outline: Option<CameraOutline>,
    /// Where each of their sheets is, and for how long.
    pub(super) ways: Vec<String>,
    pub(super) calls: Vec<Call>,
    pub(super) step: String,
    pub(super) sheets: usize,
    pub(super) last: Option<LastSheet>,
    /// How long ago any of them recorded something; empty when nobody has.
    pub(super) since: String,
    /// Whether that is long enough to go and look.
    pub(super) quiet: bool,
}

/// A call for help.
pub(super) struct Call {
    pub(super) id: HelpCallId,
    pub(super) who: String,
    pub(super) why: String,
    pub(super) ago: String,
}

/// One student of a line.
pub(super) struct Partner {
    pub(super) id: StudentId,
    pub(super) number: String,
    pub(super) name: String,
    pub(super) joined: bool,
    pub(super) handed_in: bool,
}

/// The newest sheet of a line.
pub(super) struct LastSheet {
    pub(super) id: ExposureId,
    pub(super) number: i64,
    pub(super) words: String,
}

/// Somebody on the roster who has not come in yet.
pub(super) struct Waiting {
    pub(super) number: String,
    pub(super) name: String,
}

/// A sheet's time and how it came out, in a few words.
pub(super) fn sheet_words(exposure: &Exposure) -> String {
    let came_out = match &exposure.judgement {
        None => "not judged yet".to_owned(),
        Some(judgement) => {
            let looks = match (judgement.verdict, judgement.result) {
                (Verdict::StopsGiven, Some((milli, _))) => format!("{} stops", stops_text(milli as f64 / 1000.0)),
                (verdict, _) => verdict.as_str().to_owned(),
            };
            judgement.fault.map_or(looks.clone(), |fault| format!("{looks}, spoiled: {}", fault.as_str()))
        }
    };
    format!("{}, {came_out}", seconds_text(exposure.made().as_s()))
}

/// `just now`, `14 min`, `1 h 05 min`, `more than six hours`.
pub(super) fn ago(at: Instant, now: Instant) -> String {
    let minutes = now.micros_since(at).max(0) / 60_000_000;
    match minutes {
        0 => "just now".to_owned(),
        1..60 => format!("{minutes} min"),
        60..360 => format!("{} h {:02} min", minutes / 60, minutes % 60),
        _ => "more than six hours".to_owned(),
    }
}

/// The step they are at; `done` when nothing is left.
fn step_words(progress: Progress) -> String {
    let step = progress.now();
    if progress.state(step) == StepState::Done { "done".to_owned() } else { step.as_str().to_lowercase() }
}

/// Everything the board is made from.
struct Records {
    exposures: Vec<Exposure>,
    prints_of: HashMap<CameraId, usize>,
    /// Reports by student, and whether each was handed in.
    reports: HashMap<StudentId, bool>,
    wrote: HashMap<StudentId, Instant>,
    ways: Vec<SheetWay>,
    calls: Vec<HelpCall>,
    /// Since when the session is open, while it is.
    opened_at: Option<Instant>,
    now: Instant,
}

/// Loads the board, and who is not seated yet.
pub(super) async fn load(
    conn: &mut SqliteConnection,
    session: &LabSession,
    now: Instant,
) -> Result<(Board, Vec<Waiting>), WebError> {
    let section = session.section;
    let exposures = exposures::list_of_session(conn, session.id).await?;
    let camera_of: HashMap<ExposureId, CameraId> = exposures.iter().map(|sheet| (sheet.id, sheet.camera)).collect();
    let mut prints_of = HashMap::new();
    for print in prints::list_of_session(conn, session.id).await? {
        if let Some(camera) = camera_of.get(&print.exposure) {
            *prints_of.entry(*camera).or_default() += 1;
        }
    }
    let reports = reports::list_of_session(conn, session.id).await?;
    let records = Records {
        exposures,
        prints_of,
        reports: reports.iter().map(|report| (report.student, report.state.is_submitted())).collect(),
        wrote: change_log::list_last_of_section(conn, section).await?.into_iter().collect(),
        ways: sheet_ways::list(conn, session.id).await?,
        calls: help_calls::list(conn, session.id).await?,
        opened_at: match session.state {
            SessionState::Open { opened_at } => Some(opened_at),
            SessionState::Planned | SessionState::Closed { .. } => None,
        },
        now,
    };

    let holders = cameras::list_holders(conn, section).await?;
    let mut students: Vec<Student> = students::list(conn, section).await?;
    // 2 before 10
    students.sort_by(|a, b| (a.roster_number.len(), &a.roster_number).cmp(&(b.roster_number.len(), &b.roster_number)));
    let mut lines = Vec::new();
    for camera in cameras::list_of_section(conn, section).await? {
        let has_it = |student: &Student| holders.contains(&(camera.id, student.id));
        let partners: Vec<Student> = students.extract_if(.., |student| has_it(student)).collect();
        if !partners.is_empty() {
            let hole = holes::find_latest(conn, camera.id).await?.is_some();
            lines.push(records.line(&partners, Some((&camera, hole))));
        }
    }
    let (here, not_joined): (Vec<Student>, Vec<Student>) =
        students.into_iter().partition(|student| student.joined_at.is_some());
    lines.extend(here.iter().map(|student| records.line(std::slice::from_ref(student), None)));
    let waiting = |student: Student| Waiting { number: student.roster_number, name: student.name };
    Ok((Board { lines }, not_joined.into_iter().map(waiting).collect()))
}

impl Records {
    fn line(&self, partners: &[Student], camera: Option<(&Camera, bool)>) -> Line {
        let theirs = |sheet: &&Exposure| {
            camera.is_some_and(|(camera, _)| sheet.camera == camera.id)
                || (camera.is_none() && partners.iter().any(|student| sheet.student == Some(student.id)))
        };
        let sheets: Vec<&Exposure> = self.exposures.iter().filter(theirs).collect();
        let last = sheets.iter().max_by_key(|sheet| (sheet.made_at, sheet.number));
        let wrote = partners.iter().filter_map(|student| self.wrote.get(&student.id).copied());
        let newest = wrote.chain(sheets.iter().map(|sheet| sheet.recorded_at)).max();
        let handed_in = partners.iter().all(|student| self.reports.get(&student.id).copied().unwrap_or(false));
        let progress = Progress {
            camera: camera.is_some(),
            uses_trays: camera.is_some_and(|(camera, _)| camera.uses_trays()),
            hole: camera.is_some_and(|(_, hole)| hole),
            sheets: sheets.len(),
            unjudged: sheets.iter().filter(|sheet| sheet.judgement.is_none()).count(),
            good_negative: sheets.iter().any(|sheet| sheet.good_to_print()),
            prints: camera.and_then(|(camera, _)| self.prints_of.get(&camera.id)).copied().unwrap_or(0),
            report: handed_in,
            open: self.opened_at.is_some(),
            sheet: UnderWay::newest(&self.on_their_way(camera.map(|(camera, _)| camera.id))),
        };
        let step = progress.now();
        Line {
            partners: partners.iter().map(|student| self.partner(student)).collect(),
            outline: camera.map(|(camera, _)| CameraOutline::of(camera.build())),
            ways: self.ways_of(camera.map(|(camera, _)| camera.id)),
            calls: self.calls_of(partners),
            camera: camera
                .map_or("none yet".to_owned(), |(camera, _)| format!("{}, {}", camera.number, camera.build().as_str())),
            step: step_words(progress),
            sheets: sheets.len(),
            last: last.map(|sheet| LastSheet { id: sheet.id, number: sheet.number, words: sheet_words(sheet) }),
            since: newest.map(|at| ago(at, self.now)).unwrap_or_default(),
            // nobody is late before the session was opened
            quiet: step < Step::Report
                && self.opened_at.zip(newest).is_some_and(|(opened, at)| {
                    QUIET_MINUTES.contains(&(self.now.micros_since(at.max(opened)) / 60_000_000))
                }),
        }
    }

    fn ways_of(&self, camera: Option<CameraId>) -> Vec<String> {
        self.on_their_way(camera)
            .iter()
            .map(|way| format!("{}, {}", way.place.as_str(), ago(way.since, self.now)))
            .collect()
    }

    fn on_their_way(&self, camera: Option<CameraId>) -> Vec<&SheetWay> {
        self.ways.iter().filter(|way| Some(way.camera) == camera).collect()
    }

    fn calls_of(&self, partners: &[Student]) -> Vec<Call> {
        let call = |call: &HelpCall| {
            let who = partners.iter().find(|student| student.id == call.student)?;
            let (why, ago) = (call.why.clone(), ago(call.called, self.now));
            Some(Call { id: call.id, who: who.name.clone(), why, ago })
        };
        self.calls.iter().filter_map(call).collect()
    }

    fn partner(&self, student: &Student) -> Partner {
        Partner {
            id: student.id,
            number: student.roster_number.clone(),
            name: student.name.clone(),
            joined: student.joined_at.is_some(),
            handed_in: self.reports.get(&student.id).copied().unwrap_or(false),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn how_long_ago_is_said_in_minutes_and_hours() {
        let noon = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        let said = [0, 14, 65, 120, 10_000].map(|minutes| ago(noon, noon.plus_minutes(minutes)));
        assert_eq!(said, ["just now", "14 min", "1 h 05 min", "2 h 00 min", "more than six hours"]);
    }
}
