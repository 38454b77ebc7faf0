//! The lines of the board as they are shown.

use crate::{
    calc::working::{seconds_text, stops_text},
    domain::{
        camera::Build,
        evening::next_step::{Progress, StepState},
        exposure::{Exposure, verdict::Verdict},
        ids::{ExposureId, HelpCallId, StudentId},
        instant::Instant,
    },
    drawing::camera_outline::CameraOutline,
    lab::evening::board,
};

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

impl Board {
    /// The board at a moment, and who is not seated yet.
    pub(super) fn of(board: board::Board, now: Instant) -> (Self, Vec<Waiting>) {
        let lines = board.lines.into_iter().map(|line| Line::of(line, now)).collect();
        let waiting = board.not_joined.into_iter();
        let waiting = waiting.map(|student| Waiting { number: student.roster_number, name: student.name });
        (Self { lines }, waiting.collect())
    }
}

impl Line {
    fn of(line: board::Line, now: Instant) -> Self {
        let call =
            |it: board::Call| Call { id: it.call.id, who: it.who, ago: ago(it.call.called, now), why: it.call.why };
        let last = |sheet: &Exposure| LastSheet { id: sheet.id, number: sheet.number, words: sheet_words(sheet) };
        let camera = |(number, build): (i64, _)| format!("{number}, {}", Build::as_str(build));
        Self {
            partners: line.partners.into_iter().map(Partner::of).collect(),
            outline: line.camera.map(|(_, build)| CameraOutline::of(build)),
            camera: line.camera.map_or("none yet".to_owned(), camera),
            ways: line.ways.iter().map(|way| format!("{}, {}", way.place.as_str(), ago(way.since, now))).collect(),
            calls: line.calls.into_iter().map(call).collect(),
            step: step_words(line.progress),
            sheets: line.sheets,
            last: line.last.as_ref().map(last),
            since: line.heard.map(|at| ago(at, now)).unwrap_or_default(),
            quiet: line.quiet,
        }
    }
}

impl Partner {
    fn of(partner: board::Partner) -> Self {
        let board::Partner { student, handed_in } = partner;
        Self {
            id: student.id,
            joined: student.joined_at.is_some(),
            number: student.roster_number,
            name: student.name,
            handed_in,
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
