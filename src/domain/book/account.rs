//! The accounts of the silver book: where liquid and silver come from, stand, and go.

use crate::domain::ids::{BatchId, ContainerId};

/// Something liquid stands in: the stores of the book.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Vessel {
    /// A batch of working solution.
    Batch(BatchId),
    /// A waste container.
    Container(ContainerId),
}

/// An account of the book.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Account {
    /// Source: working solution mixed.
    Mixed,
    /// Source: water, also what a measurement finds too much.
    Water,
    /// Source: the silver that paper and film give off.
    Paper,
    /// Source: what was there when the book was begun.
    Opening,
    /// Store: a batch or a waste container.
    Store(Vessel),
    /// Sink: carried into the wash by sheets.
    Wash,
    /// Sink: silver recovered on site.
    Recovered,
    /// Sink: taken away by a carrier.
    Removed,
    /// Sink: let go under somebody's authority.
    Discharged,
    /// Sink: spilled, evaporated, taken as a sample, missing when measured.
    WrittenOff,
}

impl Account {
    /// The accounts that are not stores.
    pub const ENDS: [Self; 9] = [
        Self::Mixed,
        Self::Water,
        Self::Paper,
        Self::Opening,
        Self::Wash,
        Self::Recovered,
        Self::Removed,
        Self::Discharged,
        Self::WrittenOff,
    ];

    /// The stored word, which is also the word for people.
    pub fn word(self) -> &'static str {
        match self {
            Self::Mixed => "mixed",
            Self::Water => "water",
            Self::Paper => "paper",
            Self::Opening => "opening",
            Self::Store(Vessel::Batch(_)) => "batch",
            Self::Store(Vessel::Container(_)) => "container",
            Self::Wash => "wash",
            Self::Recovered => "recovered",
            Self::Removed => "removed",
            Self::Discharged => "discharged",
            Self::WrittenOff => "written off",
        }
    }

    /// From the stored word and the ids beside it; nothing when they do not belong together.
    pub fn from_parts(word: &str, batch: Option<BatchId>, container: Option<ContainerId>) -> Option<Self> {
        match (word, batch, container) {
            ("batch", Some(id), None) => Some(Self::Store(Vessel::Batch(id))),
            ("container", None, Some(id)) => Some(Self::Store(Vessel::Container(id))),
            (_, None, None) => Self::ENDS.into_iter().find(|account| account.word() == word),
            _ => None,
        }
    }

    /// Whether it is a source.
    pub fn is_source(self) -> bool {
        matches!(self, Self::Mixed | Self::Water | Self::Paper | Self::Opening)
    }

    /// Whether it is a sink.
    pub fn is_sink(self) -> bool {
        !self.is_source() && self.vessel().is_none()
    }

    /// The vessel, if it is a store.
    pub fn vessel(self) -> Option<Vessel> {
        match self {
            Self::Store(vessel) => Some(vessel),
            _ => None,
        }
    }

    /// The batch, if it is one.
    pub fn batch(self) -> Option<BatchId> {
        match self {
            Self::Store(Vessel::Batch(id)) => Some(id),
            _ => None,
        }
    }

    /// The container, if it is one.
    pub fn container(self) -> Option<ContainerId> {
        match self {
            Self::Store(Vessel::Container(id)) => Some(id),
            _ => None,
        }
    }
}

impl From<Vessel> for Account {
    fn from(vessel: Vessel) -> Self {
        Self::Store(vessel)
    }
}
