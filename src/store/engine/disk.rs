//! A disk that refuses, for tests.

/// For tests: how the disk takes what is written. Each is made with SQLite's own means, so that the
/// errors are the ones a real disk causes.
#[doc(hidden)]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Disk {
    /// As it is.
    #[default]
    Sound,
    /// No further page fits.
    Full,
    /// Nothing may be written.
    ReadOnly,
}

impl Disk {
    pub(in crate::store) fn pragmas(self) -> &'static str {
        match self {
            Self::Sound => "PRAGMA max_page_count = 4294967294; PRAGMA query_only = OFF",
            // below its present size, a file's limit is its present size
            Self::Full => "PRAGMA max_page_count = 1; PRAGMA query_only = OFF",
            Self::ReadOnly => "PRAGMA query_only = ON",
        }
    }
}
