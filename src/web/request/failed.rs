//! A write that failed, as it is answered.

use crate::{store::WriteError, web::kit::error::WebError};

use super::posted::Posted;

impl WebError {
    /// A write that failed, with what was typed, so that the page can give it back.
    pub fn from_write(error: WriteError, posted: &Posted) -> Self {
        match error {
            WriteError::Refused(errors) => Self::Refused(errors),
            WriteError::Missing(what) => Self::NotFound(what),
            WriteError::Forbidden(why) => Self::Forbidden(why),
            WriteError::Stale(stale) => Self::Stale(stale),
            WriteError::SentBefore(landing) => Self::SentBefore { landing, typed: posted.typed() },
            WriteError::Constraint(message) => Self::Constraint(message),
            WriteError::Storage(reason) => Self::NotStored { reason, typed: posted.typed() },
            WriteError::Trouble(trouble) => Self::Trouble { trouble, typed: posted.typed() },
        }
    }
}
