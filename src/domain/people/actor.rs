//! Who does something.

use crate::domain::ids::{AccountId, PersonId, StudentId};

/// Whoever is behind a change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Actor {
    /// An instructor or assistant.
    Staff(AccountId),
    /// A student at the bench.
    Student(StudentId),
    /// Somebody at the door, not signed in yet.
    Visitor,
    /// The server itself (demo, clean-up, command line).
    Server,
}

impl Actor {
    /// The word the change log keeps.
    pub fn kind(self) -> &'static str {
        match self {
            Self::Staff(_) => "staff",
            Self::Student(_) => "student",
            Self::Visitor => "visitor",
            Self::Server => "server",
        }
    }

    /// The person's id, where there is a person.
    pub fn person(self) -> Option<PersonId> {
        match self {
            Self::Staff(id) => Some(id.into()),
            Self::Student(id) => Some(id.into()),
            Self::Visitor | Self::Server => None,
        }
    }
}

/// What a member of staff may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Everything.
    Instructor,
    /// Chemistry, waste and marks; not the roster, accounts or site rules.
    Assistant,
}

impl Role {
    /// The stored word.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Instructor => "instructor",
            Self::Assistant => "assistant",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        match word {
            "instructor" => Some(Self::Instructor),
            "assistant" => Some(Self::Assistant),
            _ => None,
        }
    }
}
