//! A pile of bench cards, typed in afterwards, one row a sheet, all of them or none: by staff for every
//! camera of a section, or by the partners of one camera.

pub mod grid;
mod holes;
pub mod pile;
pub mod sheets;
pub mod taken;

use std::collections::HashMap;

use jiff::tz::TimeZone;

use crate::domain::{
    camera::{Camera, hole::Hole},
    evening::lab_session::LabSession,
    ids::CameraId,
    people::student::Student,
    stock::paper::Paper,
};

use crate::web::request::posted::Posted;

/// How many rows there are to begin with, and how many more at a time.
pub const ROWS: usize = 12;
/// How many there are at the most.
pub const MOST_ROWS: usize = 60;
/// The field that says how many rows the page had.
const ROWS_FIELD: &str = "rows";
/// The button that asks for more of them.
const MORE: &str = "more";

/// How many rows a form has: those it was shown with, and more when it asks for them.
pub fn rows_of(posted: &Posted) -> usize {
    let shown = posted.get(ROWS_FIELD).parse().unwrap_or(ROWS).clamp(ROWS, MOST_ROWS);
    if wants_more(posted) { (shown + ROWS).min(MOST_ROWS) } else { shown }
}

/// Whether a form asks for more rows instead of being taken in.
pub fn wants_more(posted: &Posted) -> bool {
    !posted.get(MORE).is_empty()
}

/// Who types a pile in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Typist {
    /// Staff: a row names its camera, and may give the hole of one that nobody has measured. Cards may be old.
    Staff,
    /// A student: every row is of the one camera they have, and says whether its sheet went through the trays.
    Partner,
}

/// What a pile of cards is read against.
#[derive(Clone, Debug)]
pub struct Around {
    /// Who types it in.
    pub typist: Typist,
    /// The session, on whose date every time of day is.
    pub session: LabSession,
    /// The site's time zone.
    pub zone: TimeZone,
    /// The cameras it may be of, each with its newest hole; a partner's one.
    pub cameras: Vec<(Camera, Option<Hole>)>,
    /// What each of them is loaded with; body caps whose film nobody has named are missing.
    pub loaded: HashMap<CameraId, Paper>,
    /// The films of the stockroom, as a list that opens; for staff.
    pub films: Vec<(String, String)>,
    /// Whose sheets they may be.
    pub students: Vec<Student>,
    /// Whether sheets go through trays at all.
    pub has_trays: bool,
}
