//! What people do with baths and waste containers, each booked in the silver book as one movement.

mod baths;
mod collecting;
mod levels;
mod pouring;
mod waste;

use sqlx::SqliteConnection;

use crate::domain::destination::Destination;
use crate::domain::{
    baths::shortfall::Missing,
    book::{Draft, MovementKind, Vessel, moves},
    field_errors::FieldErrors,
    ids::{MovementId, SiteId},
    instant::Instant,
    people::actor::Actor,
};

use super::Movement;
use crate::store::{Stale, WriteError, baths::batches, book, waste::containers};

pub use baths::{Addition, NewBatch, mix, set_in, take_out, top_up};
pub use collecting::{collect_rinse, throw_scrap};
pub use levels::{Loss, measure, read_silver, write_off};
pub use pouring::{Retiring, at_or_above_limit, discharge, pour, retire};
pub use waste::{put_away, recover, remove, set_up, take_out_again};

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
    /// The same, its remark saying where what was missing went.
    fn with_missing(&self, missing: Option<Missing>) -> Self {
        let Some(missing) = missing else { return self.clone() };
        let said = format!("what was missing: {}", missing.as_str());
        let remark = if self.remark.is_empty() { said } else { format!("{said}; {}", self.remark) };
        Self { remark, ..self.clone() }
    }

    /// The movement of this occasion.
    ///
    /// # Errors
    /// Refused beside `happened_at` when it lies in the future or before `earliest`; forbidden when
    /// nobody is signed in.
    fn movement(&self, site: SiteId, kind: MovementKind, earliest: Option<Instant>) -> Result<Movement, WriteError> {
        not_in_future(self.happened_at, self.recorded_at)?;
        if earliest.is_some_and(|earliest| self.happened_at < minute_of(earliest)) {
            let words = "must not lie before the batch was mixed or the first drop went into the container";
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
            rests_on: None,
        })
    }
}

/// The movement of an occasion at a vessel, not before there was such a vessel.
async fn begin(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    vessel: Vessel,
    kind: MovementKind,
) -> Result<Movement, WriteError> {
    let (site, earliest) = match vessel {
        Vessel::Batch(id) => {
            let batch = batches::find(tx, id).await?.ok_or(WriteError::Missing("batch"))?;
            (batch.site, Some(batch.mixed_at))
        }
        Vessel::Container(id) => {
            let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("waste container"))?;
            // what goes in may be its first drop
            let goes_in = matches!(kind, MovementKind::Rinse | MovementKind::Scrap);
            (container.site, container.first_drop_at.filter(|_| !goes_in))
        }
    };
    occasion.movement(site, kind, earliest)
}

/// The entries there are, or one of nothing: every movement has entries, also one that found the book
/// right.
fn with_one(drafts: Vec<Draft>, kind: MovementKind, vessel: Vessel) -> Vec<Draft> {
    if drafts.is_empty() { vec![moves::watered(kind, vessel, 0)] } else { drafts }
}

/// What the page said, beside what stands now.
fn stale(what: String, path: Destination, sent: &str, stored: &str) -> WriteError {
    let fields = vec![("state".to_owned(), sent.to_owned(), stored.to_owned())];
    WriteError::Stale(Box::new(Stale { what, path, fields }))
}

/// The minute a moment lies in: people type no finer.
fn minute_of(at: Instant) -> Instant {
    at.plus_micros(-(at.as_micros() % 60_000_000))
}

fn not_in_future(happened_at: Instant, now: Instant) -> Result<(), WriteError> {
    if happened_at > now {
        return Err(FieldErrors::one("happened_at", "must not lie in the future").into());
    }
    Ok(())
}
