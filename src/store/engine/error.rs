//! What can go wrong at the database, sorted by whose fault it is.

use crate::domain::{destination::Destination, field_errors::FieldErrors};

use crate::store::{Landing, Trouble};

/// The database could not be asked, or holds what it should not.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A rule of the schema refused the change. Carries SQLite's message, which names the rule.
    #[error("the database refused the change: {0}")]
    Constraint(String),
    /// The disk is full, the file read-only, the connection lost: nothing to do with what was asked.
    #[error("the database could not be used: {0}")]
    Storage(#[source] sqlx::Error),
    /// The file cannot be what was written.
    #[error("the database file is damaged: {0}")]
    Damaged(#[source] sqlx::Error),
    /// A stored row that our rules would not have let in.
    #[error("{table}.{column} of {id} holds what it should not")]
    Inconsistent {
        /// The table.
        table: &'static str,
        /// The column.
        column: &'static str,
        /// The row.
        id: String,
    },
}

/// What the triggers of an archived section say.
const ARCHIVED: &str = "this section is archived";
const ARCHIVED_WORDS: &str = "this section is archived: everything can be read, nothing changed";

/// SQLite's primary result code for a refused constraint; the extended codes share its low byte.
const SQLITE_CONSTRAINT: i32 = 19;
/// A page is not what a page can be; the file is no database at all.
const SQLITE_CORRUPT: i32 = 11;
const SQLITE_NOTADB: i32 = 26;
/// The file ends too soon; the disk says itself that what it holds is not what was written.
const SQLITE_IOERR_SHORT_READ: i32 = 10 | 2 << 8;
const SQLITE_IOERR_DATA: i32 = 10 | 32 << 8;
const SQLITE_IOERR_CORRUPTFS: i32 = 10 | 33 << 8;

/// Whether SQLite's result code says that the file is damaged.
fn is_damage(code: i32) -> bool {
    matches!(code & 0xff, SQLITE_CORRUPT | SQLITE_NOTADB)
        || matches!(code, SQLITE_IOERR_SHORT_READ | SQLITE_IOERR_DATA | SQLITE_IOERR_CORRUPTFS)
}

impl From<sqlx::Error> for Error {
    fn from(error: sqlx::Error) -> Self {
        let code = error.as_database_error().and_then(|db| db.code()).and_then(|code| code.parse::<i32>().ok());
        match code {
            Some(code) if code & 0xff == SQLITE_CONSTRAINT => {
                Self::Constraint(error.as_database_error().map_or_else(String::new, |db| db.message().to_owned()))
            }
            Some(code) if is_damage(code) => Self::Damaged(error),
            // a value of a kind that its column cannot hold
            None if matches!(error, sqlx::Error::ColumnDecode { .. } | sqlx::Error::Decode(_)) => Self::Damaged(error),
            _ => Self::Storage(error),
        }
    }
}

/// A record changed since the page was loaded: what is stored now, beside what was sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stale {
    /// What the record is, for people.
    pub what: String,
    /// The page that shows it as it is now.
    pub path: Destination,
    /// Field by field: its name for people, what was sent, what is stored.
    pub fields: Vec<(String, String, String)>,
}

impl Stale {
    /// Puts two versions of a record side by side, each described field by field in the same order.
    pub fn between(
        what: impl Into<String>,
        path: impl Into<Destination>,
        sent: Vec<(&'static str, String)>,
        stored: Vec<(&'static str, String)>,
    ) -> Box<Self> {
        let fields =
            sent.into_iter().zip(stored).map(|((name, sent), (_, stored))| (name.to_owned(), sent, stored)).collect();
        Box::new(Self { what: what.into(), path: path.into(), fields })
    }
}

/// Why a write did not happen. Nothing of it is stored, whichever it is.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// 422: what was sent is not acceptable, field by field.
    #[error("refused: {0:?}")]
    Refused(FieldErrors),
    /// 404: what it speaks of is not there.
    #[error("{0} was not found")]
    Missing(&'static str),
    /// 403: this person may not do this.
    #[error("not allowed: {0}")]
    Forbidden(&'static str),
    /// 409: the record changed since the page was loaded.
    #[error("{} changed in the meantime", .0.what)]
    Stale(Box<Stale>),
    /// 409: this form was sent before, with other content. Carries where the first one led.
    #[error("this form was already sent with other content")]
    SentBefore(Landing),
    /// 409: a rule of the database refused it, one that the form should have caught.
    #[error("the database refused the change: {0}")]
    Constraint(String),
    /// 503: the database could not take it.
    #[error("the database could not take it: {0}")]
    Storage(String),
    /// 503: the file itself is not as it should be.
    #[error(transparent)]
    Trouble(#[from] Trouble),
}

impl From<Error> for WriteError {
    fn from(error: Error) -> Self {
        match error {
            // the schema's own triggers say so, whichever page asked
            Error::Constraint(message) if message.contains(ARCHIVED) => Self::Forbidden(ARCHIVED_WORDS),
            Error::Constraint(message) => Self::Constraint(message),
            Error::Storage(error) => Self::Storage(error.to_string()),
            Error::Damaged(error) => Self::Trouble(Trouble::Damaged(error.to_string())),
            error @ Error::Inconsistent { .. } => Self::Storage(error.to_string()),
        }
    }
}

impl From<sqlx::Error> for WriteError {
    fn from(error: sqlx::Error) -> Self {
        Error::from(error).into()
    }
}

impl From<FieldErrors> for WriteError {
    fn from(errors: FieldErrors) -> Self {
        Self::Refused(errors)
    }
}
