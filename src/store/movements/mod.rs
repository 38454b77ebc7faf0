//! What people do with baths and waste containers, each booked in the silver book as one movement.

mod baths;

use crate::domain::{
    actor::Actor,
    book::MovementKind,
    field_errors::FieldErrors,
    ids::{MovementId, SiteId},
    instant::Instant,
};

use super::{
    WriteError,
    book::{self, Movement},
};

pub use baths::{NewBatch, mix, set_in, take_out};

/// When and by whom something was done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Occasion {
    /// The id of the movement it becomes.
    pub movement: MovementId,
    /// Who did it.
    pub actor: Actor,
    /// When, as the paper in the dark said.
    pub happened_at: Instant,
    /// When it was written here.
    pub recorded_at: Instant,
    /// Anything else; where a reason is asked for, the reason.
    pub remark: String,
}

impl Occasion {
    /// The movement of this occasion.
    ///
    /// # Errors
    /// Refused beside `happened_at` when it lies in the future or before `earliest`; forbidden when
    /// nobody is signed in.
    fn movement(&self, site: SiteId, kind: MovementKind, earliest: Option<Instant>) -> Result<Movement, WriteError> {
        not_in_future(self.happened_at, self.recorded_at)?;
        if earliest.is_some_and(|earliest| self.happened_at < earliest) {
            let words = "must not lie before there was anything to move: see when it was mixed";
            return Err(FieldErrors::one("happened_at", words).into());
        }
        Ok(Movement {
            id: self.movement,
            site,
            kind,
            happened_at: self.happened_at,
            recorded_at: self.recorded_at,
            recorded_by: book::person(self.actor)?,
            remark: self.remark.clone(),
        })
    }
}

fn not_in_future(happened_at: Instant, now: Instant) -> Result<(), WriteError> {
    if happened_at > now {
        return Err(FieldErrors::one("happened_at", "must not lie in the future").into());
    }
    Ok(())
}
