//! Where a message leads to, said by what is found there; which page that is, the web knows.

use super::ids::{BatchId, ContainerId, ExposureId, LabSessionId};

/// What a person is led to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Destination {
    /// The student's camera.
    Camera,
    /// Its hole.
    Hole,
    /// The student's sheets.
    Sheets,
    /// The student's prints.
    Prints,
    /// The student's report.
    Report,
    /// One sheet, as its student sees it.
    Sheet(ExposureId),
    /// One sheet, as staff see it.
    SheetForStaff(ExposureId),
    /// One sheet on the floor of its session, to be moved to where it belongs.
    SheetOnFloor(LabSessionId, ExposureId),
    /// A batch.
    Batch(BatchId),
    /// A waste container.
    Container(ContainerId),
    /// A page whose address whoever asked knows already.
    Address(String),
}

impl From<String> for Destination {
    fn from(address: String) -> Self {
        Self::Address(address)
    }
}

impl From<&str> for Destination {
    fn from(address: &str) -> Self {
        Self::Address(address.to_owned())
    }
}
