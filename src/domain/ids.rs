//! Identities: UUIDv7, one type a table, so that a camera's id cannot stand where a hole's belongs.

use std::{fmt, str::FromStr};

use uuid::Uuid;

/// What every id has in common, so that [`crate::clock::Chance::mint`] can make any of them.
pub trait Id: Copy + fmt::Display {
    /// Wraps a UUID as this id.
    fn from_uuid(uuid: Uuid) -> Self;
    /// The UUID itself.
    fn as_uuid(self) -> Uuid;
}

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(Uuid);

        impl Id for $name {
            fn from_uuid(uuid: Uuid) -> Self {
                Self(uuid)
            }
            fn as_uuid(self) -> Uuid {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.as_hyphenated().fmt(f)
            }
        }

        impl FromStr for $name {
            type Err = uuid::Error;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                Uuid::parse_str(text).map(Self)
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                Uuid::deserialize(deserializer).map(Self)
            }
        }
    )*};
}
/// Calls the given macro with the name of every id type: the store implements the database
/// encoding for all of them at once.
macro_rules! for_each_id {
    ($with:ident) => {
        $with! {
            AccountId
            SiteId
            SiteRuleId
            PaperId
            ProductId
            SectionId
            StudentId
            TrayLineId
            ContainerId
            BatchId
            TraySlotId
            RubricId
            CriterionId
            LabSessionId
            CameraId
            HoleId
            ExposureId
            PrintId
            PaperBoxId
            LeftOutId
            MovementId
            SheetRunId
            ReadingId
            RemovalId
            DischargeId
            GivenStatementId
            ReportId
            PersonId
            FormId
            TrayId
            ClearingTestId
            SheetCountId
            ScrapId
            LookId
            RecoveryId
            CartridgeChangeId
            ClockMarkId
            SheetWayId
            HelpCallId
            AnnouncementId
            OwnFigureId
            QuestionId
            PictureId
        }
    };
}
pub(crate) use for_each_id;

ids! {
    /// A member of staff's account.
    AccountId;
    /// A site: one teaching darkroom and its stockroom.
    SiteId;
    /// A site's own rule for when waste must be gone.
    SiteRuleId;
    /// A paper or film of the stockroom.
    PaperId;
    /// A chemical product of the stockroom.
    ProductId;
    /// A section: the students of one course group.
    SectionId;
    /// A student on a section's roster.
    StudentId;
    /// A set of trays in use.
    TrayLineId;
    /// A waste container.
    ContainerId;
    /// One mixing of a working solution.
    BatchId;
    /// A batch's stay in a tray.
    TraySlotId;
    /// A rubric.
    RubricId;
    /// A criterion of a rubric.
    CriterionId;
    /// A lab session.
    LabSessionId;
    /// A camera.
    CameraId;
    /// A hole as measured.
    HoleId;
    /// An exposure.
    ExposureId;
    /// A new box of a paper.
    PaperBoxId;
    /// A sheet left out of experience.
    LeftOutId;
    /// A contact print.
    PrintId;
    /// What caused entries in the silver book.
    MovementId;
    /// A sheet put through a tray line.
    SheetRunId;
    /// A reading of silver.
    ReadingId;
    /// A waste container's removal.
    RemovalId;
    /// A discharge under somebody's authority.
    DischargeId;
    /// A statement of a year as it was handed out.
    GivenStatementId;
    /// A tray of the stockroom.
    TrayId;
    /// A test of how long film takes to clear in a fixer.
    ClearingTestId;
    /// Sheets counted from the box in a session.
    SheetCountId;
    /// Film and paper thrown into a container.
    ScrapId;
    /// A look at a container.
    LookId;
    /// A recovery of silver on site.
    RecoveryId;
    /// A recovery cartridge put in.
    CartridgeChangeId;
    /// A mark of a container's clock: full, moved, or not after all.
    ClockMarkId;
    /// A student's report.
    ReportId;
    /// A sheet on its way through the evening.
    SheetWayId;
    /// A student's call for help.
    HelpCallId;
    /// What all benches of a session are told.
    AnnouncementId;
    /// One try of a student's own figure.
    OwnFigureId;
    /// A question of a report.
    QuestionId;
    /// A picture in a report.
    PictureId;
    /// Whoever wrote a record: an account's or a student's id. Records keep this, never a name.
    PersonId;
    /// The id a form carries, so that sending it twice makes one record.
    FormId;
}

impl From<AccountId> for PersonId {
    fn from(id: AccountId) -> Self {
        Self(id.0)
    }
}

impl From<StudentId> for PersonId {
    fn from(id: StudentId) -> Self {
        Self(id.0)
    }
}
