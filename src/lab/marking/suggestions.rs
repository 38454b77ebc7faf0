//! The record of one student's session, as far as criteria are judged by it.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        baths::sheet_run::SheetOf,
        camera::{
            Camera,
            target::{HoleFormula, Target},
        },
        evening::lab_session::{LabSession, SessionState},
        exposure::Exposure,
        ids::{CriterionId, StudentId},
        marking::{
            from_record::{Handed, HoleSeen, Record, Says, Suggestion, suggest},
            mark::Worth,
            own_figure::Outcome,
            report::{ReportState, is_late},
            rubric::{Criterion, Rubric},
        },
    },
    lab::marking::own_figures::Basis,
    store::{
        self,
        baths::sheet_runs,
        camera::{cameras, holes},
        exposure::{exposures, prints},
        marking::{reports, seen},
    },
};

/// Gathers it. Nothing is asked of the database when the rubric has no criterion from the record.
///
/// # Errors
/// When the database cannot be used.
pub async fn gather(
    conn: &mut SqliteConnection,
    session: &LabSession,
    rubric: &Rubric,
    student: StudentId,
) -> Result<Record, store::Error> {
    if rubric.criteria.iter().all(|criterion| criterion.source.is_none()) {
        return Ok(Record::default());
    }
    let camera = cameras::find_of_student(conn, student).await?;
    let mut record = Record {
        camera: camera.is_some(),
        uses_trays: camera.as_ref().is_some_and(Camera::uses_trays),
        over: matches!(session.state, SessionState::Closed { .. }),
        cleaned_up: seen::list_clean_up(conn, session.id).await?.get(&student).copied(),
        ..Record::default()
    };
    if let Some(camera) = &camera {
        record.hole = hole_seen(conn, session, camera).await?;
    }
    if let Some(basis) = Basis::of(conn, session).await? {
        for asked in basis.asked_of(conn, session.section, student).await?.figures {
            record.figures_asked += 1;
            record.figures_tried += usize::from(!asked.tries.is_empty());
            record.figures_right += usize::from(asked.tries.iter().any(|tried| tried.outcome == Outcome::Right));
        }
    }
    sheets(conn, session, student, &mut record).await?;
    let due = reports::find_due(conn, session.id).await?;
    record.report_due = due.is_some();
    let report = reports::find(conn, session.id, student).await?;
    let began_report = report.is_some();
    record.report = match report.map(|report| report.state) {
        Some(ReportState::Submitted { at }) if is_late(at, due) => Handed::Late,
        Some(ReportState::Submitted { .. }) => Handed::InTime,
        _ => Handed::No,
    };
    record.worked = began_report
        || record.through_trays > 0
        || record.figures_tried > 0
        || record.cleaned_up == Some(true)
        || handled_camera(conn, session, student).await?;
    Ok(record)
}

/// Whether they took a camera or measured its hole in the session's time.
async fn handled_camera(
    conn: &mut SqliteConnection,
    session: &LabSession,
    student: StudentId,
) -> Result<bool, store::Error> {
    match session.state {
        SessionState::Planned => Ok(false),
        SessionState::Open { opened_at } => cameras::was_handled(conn, student, opened_at, None).await,
        SessionState::Closed { opened_at, closed_at } => {
            cameras::was_handled(conn, student, opened_at, Some(closed_at)).await
        }
    }
}

async fn hole_seen(
    conn: &mut SqliteConnection,
    session: &LabSession,
    camera: &Camera,
) -> Result<Option<HoleSeen>, store::Error> {
    let Some(hole) = holes::find_latest(conn, camera.id).await? else { return Ok(None) };
    let Ok(formula) = HoleFormula::of(session) else { return Ok(None) };
    Ok(Some(HoleSeen {
        diameter_mm: hole.diameter().as_mm(),
        target_mm: Target::of(camera, formula).hole.as_mm(),
        round: seen::find_roundness(conn, hole.id).await?,
    }))
}

async fn sheets(
    conn: &mut SqliteConnection,
    session: &LabSession,
    student: StudentId,
    record: &mut Record,
) -> Result<(), store::Error> {
    let mut made: Vec<Exposure> = exposures::list_of_student(conn, student).await?;
    made.retain(|sheet| sheet.session == session.id);
    made.sort_by_key(|sheet| (sheet.made_at, sheet.number));
    record.sheets = made.len();
    record.judged = made.iter().filter(|sheet| sheet.judgement.is_some()).count();
    record.results_milli = made.iter().filter_map(|sheet| sheet.judgement?.result.map(|(milli, _)| milli)).collect();
    let mut through: Vec<SheetOf> = made.iter().map(|sheet| SheetOf::Negative(sheet.id)).collect();
    let printed = prints::list_of_student(conn, student).await?;
    through.extend(printed.iter().filter(|print| print.session == session.id).map(|print| SheetOf::Print(print.id)));
    record.through_trays = through.len();
    for sheet in through {
        record.entered += usize::from(sheet_runs::find_of(conn, sheet).await?.is_some());
    }
    Ok(())
}

/// What the record suggests for the criteria that are judged by it.
#[derive(Clone, Debug)]
pub struct Suggestions {
    of: Vec<(CriterionId, Suggestion)>,
    worked: bool,
}

impl Suggestions {
    /// For a rubric, by what is on record.
    pub fn of(rubric: &Rubric, record: &Record) -> Self {
        let from_record = |it: &Criterion| Some((it.id, suggest(it.source?, it.max, it.hole_within, record)));
        Self { of: rubric.criteria.iter().filter_map(from_record).collect(), worked: record.worked }
    }

    /// Whether criteria are judged by the record, and there is none.
    pub fn lack_work(&self) -> bool {
        !self.of.is_empty() && !self.worked
    }

    /// What is suggested for a criterion; `None` for one that is judged by eye.
    pub fn find(&self, criterion: CriterionId) -> Option<&Suggestion> {
        self.of.iter().find(|(id, _)| *id == criterion).map(|(_, suggestion)| suggestion)
    }

    /// What a cell is worth when the suggestion is taken; `None` when there is nothing to take.
    pub fn worth(&self, criterion: CriterionId) -> Option<Worth> {
        match self.find(criterion)?.says {
            Says::Points(points) => Some(Worth::Points(points)),
            Says::LeavesOut => Some(Worth::LeftOut),
            Says::NotYet => None,
        }
    }
}

/// What the record suggests, in a few words: `3`, `to leave it out`, `nothing yet`.
pub fn in_words(suggestion: &Suggestion) -> String {
    match suggestion.says {
        Says::Points(points) => points.to_string(),
        Says::LeavesOut => "to leave it out".to_owned(),
        Says::NotYet => "nothing yet".to_owned(),
    }
}
