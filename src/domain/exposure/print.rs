//! A contact print made from an exposure's negative.

use crate::domain::{
    ids::{ExposureId, LabSessionId, PaperId, PersonId, PrintId, StudentId},
    instant::Instant,
    stock::sheet::Sheet,
};

/// How a print came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PrintVerdict {
    /// It needs longer under the lamp.
    TooPale,
    /// As it should be.
    Right,
    /// It needs less.
    TooDark,
}

impl PrintVerdict {
    /// From pale to dark.
    pub const ALL: [Self; 3] = [Self::TooPale, Self::Right, Self::TooDark];

    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::TooPale => "too pale",
            Self::Right => "right",
            Self::TooDark => "too dark",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|verdict| verdict.as_str() == word)
    }

    /// How many times as long to print next: one stop either way (common practice, no source).
    pub fn next_factor(self) -> f64 {
        match self {
            Self::TooPale => 2.0,
            Self::Right => 1.0,
            Self::TooDark => 0.5,
        }
    }
}

/// A contact print as it is stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Print {
    /// Its id.
    pub id: PrintId,
    /// The session it was made in.
    pub session: LabSessionId,
    /// The negative.
    pub exposure: ExposureId,
    /// Whose print it is.
    pub student: Option<StudentId>,
    /// What it was printed on.
    pub paper: PaperId,
    /// Its size.
    pub sheet: Sheet,
    /// The light it was made by, in words.
    pub light: String,
    /// How long, milliseconds.
    pub made_ms: i64,
    /// When.
    pub made_at: Instant,
    /// How it came out, once somebody said.
    pub verdict: Option<PrintVerdict>,
    /// Anything else.
    pub remark: String,
    /// Who typed it in.
    pub recorded_by: PersonId,
    /// When.
    pub recorded_at: Instant,
    /// Counts edits.
    pub version: i64,
}
