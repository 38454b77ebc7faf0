//! The floor: what each set of partners is at, derived from the records.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use crate::{
    domain::{
        camera::{Build, Camera},
        evening::{
            help_call::HelpCall,
            lab_session::{LabSession, SessionState},
            next_step::{Progress, Step, UnderWay},
            sheet_way::SheetWay,
        },
        exposure::Exposure,
        ids::{CameraId, ExposureId, StudentId},
        instant::Instant,
        people::student::Student,
    },
    store::{
        Error,
        camera::{cameras, holes},
        evening::{help_calls, sheet_ways},
        exposure::{exposures, prints},
        marking::reports,
        people::{change_log, students},
    },
};

/// So long without a record, and somebody may be stuck (our own judgement); past the longer time
/// the evening is over and nobody is.
const QUIET_MINUTES: std::ops::Range<i64> = 20..360;

/// The lines of the board, by camera number; those without a camera after them.
#[derive(Clone, Debug)]
pub struct Board {
    /// The lines.
    pub lines: Vec<Line>,
    /// Who stands on the roster and has not come in yet.
    pub not_joined: Vec<Student>,
}

/// One set of partners.
#[derive(Clone, Debug)]
pub struct Line {
    /// Who they are.
    pub partners: Vec<Partner>,
    /// The number and kind of their camera, once they have one.
    pub camera: Option<(i64, Build)>,
    /// Where each of their sheets is, and since when.
    pub ways: Vec<SheetWay>,
    /// Their calls for help.
    pub calls: Vec<Call>,
    /// How far they are.
    pub progress: Progress,
    /// How many sheets they made.
    pub sheets: usize,
    /// The newest of them.
    pub last: Option<Exposure>,
    /// When any of them last recorded something.
    pub heard: Option<Instant>,
    /// Whether that is long enough ago to go and look.
    pub quiet: bool,
}

/// A call for help, and who calls.
#[derive(Clone, Debug)]
pub struct Call {
    /// The call.
    pub call: HelpCall,
    /// The name of whoever calls.
    pub who: String,
}

/// One student of a line.
#[derive(Clone, Debug)]
pub struct Partner {
    /// The student.
    pub student: Student,
    /// Whether their report was handed in.
    pub handed_in: bool,
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

/// Loads the board.
///
/// # Errors
/// When the database cannot be used.
pub async fn load(conn: &mut SqliteConnection, session: &LabSession, now: Instant) -> Result<Board, Error> {
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
    Ok(Board { lines, not_joined })
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
            camera: camera.map(|(camera, _)| (camera.number, camera.build())),
            ways: self.on_their_way(camera.map(|(camera, _)| camera.id)).into_iter().cloned().collect(),
            calls: self.calls_of(partners),
            progress,
            sheets: sheets.len(),
            last: last.map(|sheet| (*sheet).clone()),
            heard: newest,
            // nobody is late before the session was opened
            quiet: step < Step::Report
                && self.opened_at.zip(newest).is_some_and(|(opened, at)| {
                    QUIET_MINUTES.contains(&(self.now.micros_since(at.max(opened)) / 60_000_000))
                }),
        }
    }

    fn on_their_way(&self, camera: Option<CameraId>) -> Vec<&SheetWay> {
        self.ways.iter().filter(|way| Some(way.camera) == camera).collect()
    }

    fn calls_of(&self, partners: &[Student]) -> Vec<Call> {
        let call = |call: &HelpCall| {
            let who = partners.iter().find(|student| student.id == call.student)?;
            Some(Call { call: call.clone(), who: who.name.clone() })
        };
        self.calls.iter().filter_map(call).collect()
    }

    fn partner(&self, student: &Student) -> Partner {
        let handed_in = self.reports.get(&student.id).copied().unwrap_or(false);
        Partner { student: student.clone(), handed_in }
    }
}
