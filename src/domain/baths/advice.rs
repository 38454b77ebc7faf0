//! What to do with a batch.

/// What to do with a batch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Advice {
    /// Nothing speaks against it.
    Use,
    /// It nears a limit, or may be past one.
    Watch,
    /// It is past a limit.
    Change,
}

impl Advice {
    /// The word for people, which is also the class of its tag.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Use => "use",
            Self::Watch => "watch",
            Self::Change => "change",
        }
    }
}
