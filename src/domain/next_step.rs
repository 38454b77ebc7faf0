//! Where a student stands in the work, and what comes next: camera, hole, sheets, prints, report.

/// A step of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// Measure and register the camera.
    Camera,
    /// Make and measure the hole.
    Hole,
    /// Expose, develop, judge.
    Sheets,
    /// Print from the best negative.
    Prints,
    /// Write.
    Report,
}

impl Step {
    /// In the order of the work.
    pub const ALL: [Self; 5] = [Self::Camera, Self::Hole, Self::Sheets, Self::Prints, Self::Report];

    /// The word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Camera => "Camera",
            Self::Hole => "Hole",
            Self::Sheets => "Sheets",
            Self::Prints => "Prints",
            Self::Report => "Report",
        }
    }

    /// Its page.
    pub fn path(self) -> &'static str {
        match self {
            Self::Camera => "/bench/camera",
            Self::Hole => "/bench/hole",
            Self::Sheets => "/bench/exposures",
            Self::Prints => "/bench/prints",
            Self::Report => "/bench/report",
        }
    }
}

/// How far a step is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StepState {
    /// There is something of it; more is always possible.
    Done,
    /// What to do now.
    Now,
    /// Still to come.
    ToCome,
    /// This camera skips it.
    NotForThisCamera,
}

impl StepState {
    /// The words for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Now => "now",
            Self::ToCome => "to come",
            Self::NotForThisCamera => "not for this camera",
        }
    }
}

/// What a student has so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Progress {
    /// Whether they have a camera.
    pub camera: bool,
    /// Whether its sheets go through the trays; only with a camera.
    pub uses_trays: bool,
    /// Whether its hole was measured.
    pub hole: bool,
    /// Sheets exposed in this session.
    pub sheets: usize,
    /// Of those, not judged yet.
    pub unjudged: usize,
    /// Whether one of them is good to print from.
    pub good_negative: bool,
    /// Prints made in this session.
    pub prints: usize,
    /// Whether the report was handed in.
    pub report: bool,
    /// Whether a session is in progress.
    pub open: bool,
}

impl Progress {
    /// What to do now. After the session only what needs no session is left.
    pub fn now(self) -> Step {
        if !self.camera {
            Step::Camera
        } else if !self.hole {
            Step::Hole
        } else if !self.open {
            Step::Report
        } else if self.unjudged > 0 || !self.good_negative {
            Step::Sheets
        } else if self.uses_trays && self.prints == 0 {
            Step::Prints
        } else {
            Step::Report
        }
    }

    /// How far a step is.
    pub fn state(self, step: Step) -> StepState {
        let skipped = step == Step::Prints && self.camera && !self.uses_trays;
        let done = match step {
            Step::Camera => self.camera,
            Step::Hole => self.hole,
            Step::Sheets => self.sheets > 0,
            Step::Prints => self.prints > 0,
            Step::Report => self.report,
        };
        if skipped && !done {
            StepState::NotForThisCamera
        } else if step == self.now() && !(step == Step::Report && done) {
            StepState::Now
        } else if done {
            StepState::Done
        } else {
            StepState::ToCome
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_evening_goes_from_camera_to_report() {
        let mut so_far = Progress { open: true, ..Progress::default() };
        assert_eq!(so_far.now(), Step::Camera);
        so_far = Progress { camera: true, uses_trays: true, ..so_far };
        assert_eq!(so_far.now(), Step::Hole);
        so_far.hole = true;
        assert_eq!(so_far.now(), Step::Sheets);
        so_far = Progress { sheets: 1, unjudged: 1, ..so_far };
        assert_eq!(so_far.now(), Step::Sheets);
        so_far = Progress { unjudged: 0, good_negative: true, ..so_far };
        assert_eq!(so_far.now(), Step::Prints);
        so_far.prints = 1;
        assert_eq!(so_far.now(), Step::Report);
        so_far.report = true;
        assert_eq!(so_far.state(Step::Report), StepState::Done);
    }

    #[test]
    fn a_body_cap_skips_the_prints() {
        let film =
            Progress { camera: true, hole: true, sheets: 4, good_negative: true, open: true, ..Progress::default() };
        assert_eq!(film.now(), Step::Report);
        assert_eq!(film.state(Step::Prints), StepState::NotForThisCamera);
        assert_eq!(film.state(Step::Sheets), StepState::Done);
    }

    #[test]
    fn a_failed_sheet_asks_for_another() {
        let failed =
            Progress { camera: true, uses_trays: true, hole: true, sheets: 1, open: true, ..Progress::default() };
        assert_eq!(failed.now(), Step::Sheets);
    }

    #[test]
    fn after_the_session_the_report_is_left() {
        let after =
            Progress { camera: true, uses_trays: true, hole: true, sheets: 2, unjudged: 1, ..Progress::default() };
        assert_eq!(after.now(), Step::Report);
        assert_eq!(after.state(Step::Prints), StepState::ToCome);
    }
}
