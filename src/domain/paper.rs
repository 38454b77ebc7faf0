//! A paper or film of the stockroom.

use crate::calc::quantity::ExposureIndex;

use super::ids::{PaperId, SiteId};

/// Paper goes through the trays; film in a body cap is sent to a laboratory.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PaperKind {
    /// Photographic paper, used as a paper negative and for contact prints.
    Paper,
    /// Film.
    Film,
}

impl PaperKind {
    /// The stored word.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Paper => "paper",
            Self::Film => "film",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Paper, Self::Film].into_iter().find(|kind| kind.as_str() == word)
    }
}

/// What a sheet is coated on. It decides how long it is fixed and washed, what a bath takes of it and
/// how much silver and liquid it carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PaperBase {
    /// Nobody said.
    Unknown,
    /// Resin-coated paper.
    ResinCoated,
    /// Fibre-based paper.
    Fibre,
    /// Film.
    Film,
}

impl PaperBase {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Unknown, Self::ResinCoated, Self::Fibre, Self::Film];

    /// The stored word; empty when nobody said.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Unknown => "",
            Self::ResinCoated => "resin-coated",
            Self::Fibre => "fibre",
            Self::Film => "film",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|base| base.as_str() == word)
    }

    /// For people.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Unknown => "base not entered",
            Self::ResinCoated => "resin-coated",
            Self::Fibre => "fibre-based",
            Self::Film => "film",
        }
    }
}

/// A paper or film with the figures the server computes with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Paper {
    /// Its id.
    pub id: PaperId,
    /// Whose stockroom.
    pub site: SiteId,
    /// Paper or film.
    pub kind: PaperKind,
    /// What it is coated on; a film's is film.
    pub base: PaperBase,
    /// What it is called.
    pub name: String,
    /// Exposure index in daylight, thousandths.
    pub exposure_index_milli: i64,
    /// Reciprocity exponent, thousandths (1000 is none).
    pub reciprocity_milli: i64,
    /// Reciprocity failure begins past this metered time, milliseconds.
    pub reciprocity_threshold_ms: i64,
    /// Silver delivered to the fixer, micrograms per square metre: best estimate.
    pub silver_ug_per_m2: i64,
    /// Its low end.
    pub silver_low_ug_per_m2: i64,
    /// Its high end.
    pub silver_high_ug_per_m2: i64,
    /// Where the silver figures come from.
    pub silver_source: String,
    /// Liquid a drained sheet carries to the next tray, microlitres per square metre.
    pub carry_over_ul_per_m2: i64,
    /// Anything else.
    pub remark: String,
    /// Counts edits.
    pub version: i64,
}

impl Paper {
    /// The exposure index as the calculations take it.
    pub fn exposure_index(&self) -> ExposureIndex {
        // the database keeps it within the range of its quantity
        let index = (self.exposure_index_milli as f64 / 1000.0).clamp(ExposureIndex::MIN, ExposureIndex::MAX);
        ExposureIndex::new(index).unwrap_or_else(|_| unreachable!("clamped into range"))
    }
}
