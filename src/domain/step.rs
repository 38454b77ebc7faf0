//! The steps of an evening: camera, hole, sheets, prints, report.

/// What partners are at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Step {
    /// Building and measuring the camera.
    Camera,
    /// Making and measuring the hole.
    Hole,
    /// Exposing sheets.
    Sheets,
    /// Printing from negatives.
    Prints,
    /// Writing the report.
    Report,
}

/// What there is on record of partners in a session.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct OnRecord {
    /// Whether they have a camera.
    pub camera: bool,
    /// Whether its hole was measured.
    pub hole: bool,
    /// Contact prints made in this session.
    pub prints: usize,
    /// Reports begun on this session.
    pub reports: usize,
}

impl Step {
    /// All of them, in order.
    pub const ALL: [Self; 5] = [Self::Camera, Self::Hole, Self::Sheets, Self::Prints, Self::Report];

    /// The word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Camera => "camera",
            Self::Hole => "hole",
            Self::Sheets => "sheets",
            Self::Prints => "prints",
            Self::Report => "report",
        }
    }

    /// The step that the records show: the last one begun, or the first that nothing else can do
    /// without.
    pub fn of(record: OnRecord) -> Self {
        match record {
            OnRecord { camera: false, .. } => Self::Camera,
            OnRecord { hole: false, .. } => Self::Hole,
            OnRecord { reports: 1.., .. } => Self::Report,
            OnRecord { prints: 1.., .. } => Self::Prints,
            OnRecord { .. } => Self::Sheets,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_evening_goes_from_the_camera_to_the_report() {
        let mut record = OnRecord::default();
        assert_eq!(Step::of(record), Step::Camera);
        record.camera = true;
        assert_eq!(Step::of(record), Step::Hole);
        record.hole = true;
        assert_eq!(Step::of(record), Step::Sheets);
        record.prints = 2;
        assert_eq!(Step::of(record), Step::Prints);
        record.reports = 1;
        assert_eq!(Step::of(record), Step::Report);
    }

    #[test]
    fn a_report_begun_early_does_not_hide_that_there_is_no_hole() {
        let record = OnRecord { camera: true, reports: 1, ..OnRecord::default() };
        assert_eq!(Step::of(record), Step::Hole);
    }
}
