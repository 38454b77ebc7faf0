//! Sheets of paper or film put through a tray line: what loads the batches.

use crate::domain::{
    ids::{
        ContainerId, ExposureId, LabSessionId, MovementId, PaperId, PersonId, PrintId, SheetRunId, SiteId, StudentId,
        TrayLineId,
    },
    instant::Instant,
};

/// What went through the trays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SheetOf {
    /// The paper negative (or film) of an exposure.
    Negative(ExposureId),
    /// A contact print.
    Print(PrintId),
    /// A test strip.
    TestStrip,
    /// Anything else, typed in by staff.
    Other,
}

impl SheetOf {
    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Negative(_) => "negative",
            Self::Print(_) => "print",
            Self::TestStrip => "test strip",
            Self::Other => "other",
        }
    }

    /// The exposure, if it is a negative.
    pub fn exposure(self) -> Option<ExposureId> {
        match self {
            Self::Negative(id) => Some(id),
            _ => None,
        }
    }

    /// The print, if it is one.
    pub fn print(self) -> Option<PrintId> {
        match self {
            Self::Print(id) => Some(id),
            _ => None,
        }
    }

    /// From the stored word and the ids beside it; nothing when they do not belong together.
    pub fn from_parts(word: &str, exposure: Option<ExposureId>, print: Option<PrintId>) -> Option<Self> {
        match (word, exposure, print) {
            ("negative", Some(id), None) => Some(Self::Negative(id)),
            ("print", None, Some(id)) => Some(Self::Print(id)),
            ("test strip", None, None) => Some(Self::TestStrip),
            ("other", None, None) => Some(Self::Other),
            _ => None,
        }
    }
}

/// What becomes of the silver of sheets typed in after their fixer had left the site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decision {
    /// It left with the container, unbooked.
    WentWithContainer,
    /// A reading had found it already.
    FoundByReading,
    /// It is booked into a container that is here.
    BookedInto(ContainerId),
}

impl Decision {
    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::WentWithContainer => "went with the container",
            Self::FoundByReading => "found by a reading",
            Self::BookedInto(_) => "booked into a container",
        }
    }
}

/// Sheets about to be recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NewSheetRun {
    /// Its id.
    pub id: SheetRunId,
    /// The id of the movement it causes in the silver book.
    pub movement: MovementId,
    /// Where.
    pub site: SiteId,
    /// In which session, if in one.
    pub lab_session: Option<LabSessionId>,
    /// Through which trays.
    pub tray_line: TrayLineId,
    /// Which paper or film.
    pub paper: PaperId,
    /// What went through.
    pub what: SheetOf,
    /// Whose it is, if a student's.
    pub student: Option<StudentId>,
    /// How many, 1 to 1000.
    pub sheets: i64,
    /// The area of all of them together, square millimetres.
    pub area_mm2: i64,
    /// When they went through.
    pub developed_at: Instant,
}

/// Recorded sheets.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SheetRun {
    /// Its id.
    pub id: SheetRunId,
    /// Through which trays.
    pub tray_line: TrayLineId,
    /// Which paper or film.
    pub paper: PaperId,
    /// What went through.
    pub what: SheetOf,
    /// Whose it is, if a student's.
    pub student: Option<StudentId>,
    /// How many.
    pub sheets: i64,
    /// The area of all of them together, square millimetres.
    pub area_mm2: i64,
    /// When they went through.
    pub developed_at: Instant,
    /// The movement in the silver book; `None` when nothing was booked: no fixer stood in the
    /// line, or it had left the site.
    pub movement: Option<MovementId>,
    /// When it was taken back, if it was.
    pub undone_at: Option<Instant>,
    /// Whether the instructor decided what becomes of its silver, its fixer having left.
    pub is_decided: bool,
    /// Who recorded it.
    pub recorded_by: PersonId,
    /// When it was recorded.
    pub recorded_at: Instant,
}
