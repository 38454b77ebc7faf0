//! Where a student stands in the work, and what comes next: camera, hole, sheets, prints, report.

use super::sheet_way::{Place, SheetWay};
use crate::domain::destination::Destination;

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

    /// Where it is done.
    pub fn destination(self) -> Destination {
        match self {
            Self::Camera => Destination::Camera,
            Self::Hole => Destination::Hole,
            Self::Sheets => Destination::Sheets,
            Self::Prints => Destination::Prints,
            Self::Report => Destination::Report,
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
    /// The camera's newest sheet that is still on its way.
    pub sheet: Option<UnderWay>,
}

/// A sheet on its way, as far as the next thing to do depends on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UnderWay {
    /// Where it is.
    pub place: Place,
    /// Whether its exposure was written down.
    pub recorded: bool,
}

impl UnderWay {
    /// The newest of a camera's sheets on their way, given in the order they were begun.
    pub fn newest(ways: &[&SheetWay]) -> Option<Self> {
        ways.last().map(|way| Self::of(way))
    }

    /// A sheet on its way.
    pub fn of(way: &SheetWay) -> Self {
        Self { place: way.place, recorded: way.exposure.is_some() }
    }

    /// Where it goes by the page's one main button, if that button moves it; `called` when there is a place
    /// in the dark room for whoever waits with it. Outside the exposure comes first, and who waits writes it
    /// down meanwhile.
    pub fn main_move(self, uses_trays: bool, called: bool) -> Option<Place> {
        match self.place {
            Place::Loading => Some(Place::Outside),
            Place::Outside if self.recorded && uses_trays => Some(Place::Waiting),
            Place::Waiting if self.recorded || called => Some(Place::InTheTrays),
            Place::Outside | Place::Waiting | Place::InTheTrays => None,
        }
    }
}

/// The one thing to do now.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Todo {
    /// Measure and register the camera.
    MeasureCamera,
    /// Make the hole and measure it.
    MakeHole,
    /// Load a sheet in the dark room.
    LoadSheet,
    /// It is being loaded: then outside with it.
    GoOutside,
    /// It is outside: open the shutter.
    OpenShutter,
    /// It is outside and its exposure written down: bring it back.
    ComeBack,
    /// It is back: wait for a place in the dark room.
    WaitForPlace,
    /// It is in the trays: mind the time in each.
    MindTrays,
    /// Its exposure is written down: say how it came out.
    Judge,
    /// Make a contact print.
    Print,
    /// Write the report.
    Write,
}

impl Todo {
    /// The step of the work it belongs to.
    pub fn step(self) -> Step {
        match self {
            Self::MeasureCamera => Step::Camera,
            Self::MakeHole => Step::Hole,
            Self::LoadSheet
            | Self::GoOutside
            | Self::OpenShutter
            | Self::ComeBack
            | Self::WaitForPlace
            | Self::MindTrays
            | Self::Judge => Step::Sheets,
            Self::Print => Step::Prints,
            Self::Write => Step::Report,
        }
    }

    /// Whether a sheet's exposure lies ahead or is running: then the shutter clock is of use.
    pub fn before_the_exposure(self) -> bool {
        matches!(self, Self::LoadSheet | Self::GoOutside | Self::OpenShutter)
    }
}

impl Progress {
    /// What to do now: where the newest unfinished sheet is decides; without one, what is there so far.
    /// After the session only what needs no session is left.
    pub fn todo(self) -> Todo {
        if !self.camera {
            return Todo::MeasureCamera;
        }
        if !self.hole {
            return Todo::MakeHole;
        }
        if !self.open {
            return Todo::Write;
        }
        match self.sheet {
            Some(UnderWay { place: Place::Loading, .. }) => Todo::GoOutside,
            Some(UnderWay { place: Place::Outside, recorded: false }) => Todo::OpenShutter,
            Some(UnderWay { place: Place::Outside, recorded: true }) if self.uses_trays => Todo::ComeBack,
            Some(UnderWay { place: Place::Waiting, .. }) => Todo::WaitForPlace,
            Some(UnderWay { place: Place::InTheTrays, .. }) => Todo::MindTrays,
            // film comes back from a laboratory: outside and written down is as far as its way goes
            Some(UnderWay { place: Place::Outside, recorded: true }) | None => self.between_sheets(),
        }
    }

    /// What to do while no sheet is on its way.
    fn between_sheets(self) -> Todo {
        if self.unjudged > 0 {
            Todo::Judge
        } else if !self.good_negative {
            Todo::LoadSheet
        } else if self.uses_trays && self.prints == 0 {
            Todo::Print
        } else {
            Todo::Write
        }
    }

    /// The step to do now.
    pub fn now(self) -> Step {
        self.todo().step()
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

    /// A student with a hole in an open session, whose newest sheet is there.
    fn with_sheet(place: Place, recorded: bool) -> Progress {
        Progress {
            camera: true,
            uses_trays: true,
            hole: true,
            open: true,
            sheet: Some(UnderWay { place, recorded }),
            ..Progress::default()
        }
    }

    #[test]
    fn where_the_newest_sheet_is_decides_what_to_do() {
        for (place, recorded, todo) in [
            (Place::Loading, false, Todo::GoOutside),
            (Place::Outside, false, Todo::OpenShutter),
            (Place::Outside, true, Todo::ComeBack),
            (Place::Waiting, false, Todo::WaitForPlace),
            (Place::Waiting, true, Todo::WaitForPlace),
            (Place::InTheTrays, false, Todo::MindTrays),
            (Place::InTheTrays, true, Todo::MindTrays),
        ] {
            let so_far = with_sheet(place, recorded);
            assert_eq!(so_far.todo(), todo, "{place:?} {recorded}");
            assert_eq!(so_far.now(), Step::Sheets, "{place:?} {recorded}");
            // whatever was done before: a sheet on its way comes first
            let after_a_good_one = Progress { sheets: 2, unjudged: 1, good_negative: true, prints: 1, ..so_far };
            assert_eq!(after_a_good_one.todo(), todo, "{place:?} {recorded}");
        }
    }

    #[test]
    fn no_sheet_is_on_its_way_before_the_hole_is_made_and_after_the_session() {
        let outside = with_sheet(Place::Outside, false);
        assert_eq!(Progress { hole: false, ..outside }.todo(), Todo::MakeHole);
        assert_eq!(Progress { open: false, ..outside }.todo(), Todo::Write);
    }

    #[test]
    fn the_main_button_moves_a_sheet_only_where_moving_it_is_what_comes_next() {
        let main = |place, recorded, called| UnderWay { place, recorded }.main_move(true, called);
        assert_eq!(main(Place::Loading, false, false), Some(Place::Outside));
        assert_eq!(main(Place::Outside, false, false), None, "the shutter comes first");
        assert_eq!(main(Place::Outside, true, false), Some(Place::Waiting));
        assert_eq!(main(Place::Waiting, false, false), None, "written down meanwhile");
        assert_eq!(main(Place::Waiting, false, true), Some(Place::InTheTrays));
        assert_eq!(main(Place::InTheTrays, true, true), None);
        assert_eq!(UnderWay { place: Place::Outside, recorded: true }.main_move(false, false), None);
    }

    #[test]
    fn film_that_was_exposed_and_written_down_waits_for_nothing_here() {
        let film = Progress { uses_trays: false, sheets: 1, unjudged: 1, ..with_sheet(Place::Outside, true) };
        assert_eq!(film.todo(), Todo::Judge);
        assert_eq!(Progress { sheet: None, unjudged: 0, good_negative: true, ..film }.todo(), Todo::Write);
    }

    #[test]
    fn the_clock_is_of_use_while_an_exposure_lies_ahead() {
        let ahead = [Todo::LoadSheet, Todo::GoOutside, Todo::OpenShutter];
        assert!(ahead.into_iter().all(Todo::before_the_exposure));
        let over = [Todo::ComeBack, Todo::WaitForPlace, Todo::MindTrays, Todo::Judge, Todo::Print, Todo::Write];
        assert!(!over.into_iter().any(Todo::before_the_exposure));
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
