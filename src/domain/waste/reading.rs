//! A reading of the silver in a bath or a waste container.

use crate::domain::{
    book::{Basis, Silver, Vessel},
    ids::{MovementId, ReadingId},
};

/// How silver is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Method {
    /// A strip of silver estimating paper.
    EstimatingPaper,
    /// A laboratory's result.
    Laboratory,
}

impl Method {
    /// Both.
    pub const ALL: [Self; 2] = [Self::EstimatingPaper, Self::Laboratory];

    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        self.basis().as_str()
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|method| method.as_str() == word)
    }

    /// What the book's figures rest on after it.
    pub fn basis(self) -> Basis {
        match self {
            Self::EstimatingPaper => Basis::EstimatingPaper,
            Self::Laboratory => Basis::Laboratory,
        }
    }
}

/// A reading, beside what the book estimated then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// Its id.
    pub id: ReadingId,
    /// The movement it caused.
    pub movement: MovementId,
    /// What was read.
    pub vessel: Vessel,
    /// How.
    pub method: Method,
    /// What it said, micrograms a litre, with its low and high.
    pub ug_per_l: Silver,
    /// What the book's best estimate was, micrograms.
    pub book_ug: i64,
}
