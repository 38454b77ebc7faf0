//! Everything a handler can end with but a page: its status, its words and its way out.

use axum::{
    http::StatusCode,
    response::{IntoResponse, Response},
};

use crate::{
    domain::field_errors::FieldErrors,
    store::{self, Stale, Trouble},
};

/// Why there is no page to show.
#[derive(Debug, thiserror::Error)]
pub enum WebError {
    /// 404: no such page or record.
    #[error("not found: {0}")]
    NotFound(&'static str),
    /// 303 to the door for a page, 401 for a form: nobody is signed in.
    #[error("signed out")]
    SignedOut {
        /// Whether a page was asked for, rather than a form sent.
        reading: bool,
    },
    /// 403: a student at a page of the front bench.
    #[error("not for students")]
    NotForStudents,
    /// 403: staff at a student's page.
    #[error("not for staff")]
    NotForStaff,
    /// 403: an assistant at an instructor's page.
    #[error("instructors only")]
    InstructorsOnly,
    /// 403: this person may not do this, for the reason given.
    #[error("not allowed: {0}")]
    Forbidden(&'static str),
    /// 422: a form whose page could not show the message itself.
    #[error("refused: {0:?}")]
    Refused(FieldErrors),
    /// 409: the record changed since the page was loaded.
    #[error("stale: {}", .0.what)]
    Stale(Box<Stale>),
    /// 409: the form was sent before with other content.
    #[error("sent before")]
    SentBefore {
        /// Where the saved record is shown.
        landing: String,
        /// What was typed this time.
        typed: Vec<(String, String)>,
    },
    /// 409: a rule of the database refused it.
    #[error("refused by the database: {0}")]
    Constraint(String),
    /// 503: nothing could be stored. Carries what was typed, so that it is not lost.
    #[error("not stored: {reason}")]
    NotStored {
        /// For the log.
        reason: String,
        /// What was typed.
        typed: Vec<(String, String)>,
    },
    /// 429: too many wrong tries; wait so many seconds.
    #[error("too many wrong tries: wait {0} s")]
    TooFast(u64),
    /// 503: slow work is being done for others; come again in a moment.
    #[error("busy")]
    Busy,
    /// 421: under another name than the public address, which stands here.
    #[error("not the public address")]
    OtherName(String),
    /// 503: the machine's clock is far off.
    #[error("the clock is far off")]
    WrongClock,
    /// 503: the database could not be asked.
    #[error("not read: {0}")]
    NotRead(String),
    /// 503: the database file itself is not as it should be. Carries what was typed, so that it is not
    /// lost.
    #[error("{trouble}")]
    Trouble {
        /// What is wrong with it.
        trouble: Trouble,
        /// What was typed.
        typed: Vec<(String, String)>,
    },
    /// 413: more was sent than a form can hold.
    #[error("too much was sent")]
    TooLarge,
    /// 415: what was sent is of another kind than a form.
    #[error("not a form")]
    NotAForm,
    /// 400: a form that could not be read.
    #[error("a form that could not be read")]
    BrokenForm,
    /// 500: our fault.
    #[error("our fault: {0}")]
    Ours(String),
}

impl WebError {
    /// The status that goes with it.
    pub fn status(&self) -> StatusCode {
        match self {
            Self::NotFound(_) => StatusCode::NOT_FOUND,
            Self::SignedOut { reading: true } => StatusCode::SEE_OTHER,
            Self::SignedOut { reading: false } => StatusCode::UNAUTHORIZED,
            Self::NotForStudents | Self::NotForStaff | Self::InstructorsOnly | Self::Forbidden(_) => {
                StatusCode::FORBIDDEN
            }
            Self::Refused(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::Stale(_) | Self::SentBefore { .. } | Self::Constraint(_) => StatusCode::CONFLICT,
            Self::NotStored { .. } | Self::NotRead(_) | Self::Trouble { .. } => StatusCode::SERVICE_UNAVAILABLE,
            Self::TooFast(_) => StatusCode::TOO_MANY_REQUESTS,
            Self::Busy | Self::WrongClock => StatusCode::SERVICE_UNAVAILABLE,
            Self::OtherName(_) => StatusCode::MISDIRECTED_REQUEST,
            Self::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
            Self::NotAForm => StatusCode::UNSUPPORTED_MEDIA_TYPE,
            Self::BrokenForm => StatusCode::BAD_REQUEST,
            Self::Ours(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    /// After how many seconds it is worth trying again.
    pub fn again_in(&self) -> Option<u64> {
        match self {
            Self::TooFast(seconds) => Some(*seconds),
            Self::Busy => Some(5),
            _ => None,
        }
    }

    /// What a page needs could not be read.
    pub fn unread(error: &store::Error) -> Self {
        match error {
            store::Error::Storage(error) => Self::NotRead(error.to_string()),
            store::Error::Constraint(message) => Self::Ours(message.clone()),
            // what our rules would not have let in was not let in by us
            store::Error::Damaged(_) | store::Error::Inconsistent { .. } => {
                Self::Trouble { trouble: Trouble::Damaged(error.to_string()), typed: Vec::new() }
            }
        }
    }
}

impl From<store::Error> for WebError {
    fn from(error: store::Error) -> Self {
        Self::unread(&error)
    }
}

/// The response is dressed as a page by [`super::layers::error_pages`], which knows who is asking.
impl IntoResponse for WebError {
    fn into_response(self) -> Response {
        let mut response = self.status().into_response();
        response.extensions_mut().insert(std::sync::Arc::new(self));
        response
    }
}
