//! How much there is: volumes measured, silver read, spills and samples written off.

use sqlx::SqliteConnection;

use crate::domain::{
    book::{Account, Amount, MovementKind, Silver, Vessel, basis_of, moves},
    field_errors::FieldErrors,
    ids::ReadingId,
    reading::{Method, Reading},
    volume,
};

use super::{Occasion, begin, with_one};
use crate::store::{WriteError, book, readings};

/// The volume was measured: the book follows, without silver.
///
/// # Errors
/// Refused when nothing is left and the book has silver there: that has to go somewhere.
pub async fn measure(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    vessel: Vessel,
    measured_ul: i64,
) -> Result<(), WriteError> {
    let movement = begin(tx, occasion, vessel, MovementKind::Measuring).await?;
    let holds = book::balance(tx, vessel).await?;
    refuse_dry(holds, measured_ul)?;
    let draft = moves::measured(MovementKind::Measuring, (vessel, holds), measured_ul);
    book::append(tx, &movement, &with_one(draft, MovementKind::Measuring, vessel)).await?;
    Ok(())
}

/// Silver does not vanish with its liquid.
pub(super) fn refuse_dry(holds: Amount, measured_ul: i64) -> Result<(), WriteError> {
    if measured_ul == 0 && !holds.silver.is_none() {
        let words = "cannot be nothing while the book has silver there: write off what was spilled first";
        return Err(FieldErrors::one("measured", words).into());
    }
    Ok(())
}

/// The silver was read: the difference to the book is booked, the earlier estimate is kept beside it.
///
/// # Errors
/// Refused when the book has no liquid there.
pub async fn read_silver(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    id: ReadingId,
    vessel: Vessel,
    method: Method,
    ug_per_l: Silver,
) -> Result<(), WriteError> {
    let movement = begin(tx, occasion, vessel, MovementKind::Reading).await?;
    let holds = book::balance(tx, vessel).await?;
    if holds.volume_ul == 0 {
        return Err(FieldErrors::whole("the book has no liquid there: measure the volume first").into());
    }
    book::append(tx, &movement, &moves::read((vessel, holds), ug_per_l, method.basis())).await?;
    let reading = Reading { id, movement: movement.id, vessel, method, ug_per_l, book_ug: holds.silver.best_ug };
    readings::insert(tx, &reading).await?;
    Ok(())
}

/// What is written off, and why it is gone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loss {
    /// Spilled: carries its silver.
    Spill,
    /// Taken as a sample: carries its silver.
    Sample,
    /// Gone into the air: leaves its silver.
    Evaporation,
}

impl Loss {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Spill, Self::Sample, Self::Evaporation];

    /// The movement it is.
    pub fn kind(self) -> MovementKind {
        match self {
            Self::Spill => MovementKind::Spill,
            Self::Sample => MovementKind::Sample,
            Self::Evaporation => MovementKind::Evaporation,
        }
    }

    /// From the movement's word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|loss| loss.kind().as_str() == word)
    }
}

/// Writes off a spill, a sample or what evaporated, with its reason (the occasion's remark).
///
/// # Errors
/// Refused without a reason, when there is less than that, or when all of it is to have evaporated.
pub async fn write_off(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    vessel: Vessel,
    loss: Loss,
    volume_ul: i64,
) -> Result<(), WriteError> {
    if occasion.remark.trim().is_empty() {
        return Err(FieldErrors::one("remark", "must say how it came about").into());
    }
    let movement = begin(tx, occasion, vessel, loss.kind()).await?;
    let holds = book::balance(tx, vessel).await?;
    let draft = match loss {
        Loss::Evaporation if volume_ul < holds.volume_ul => Some(moves::evaporated(vessel, volume_ul)),
        Loss::Evaporation => None,
        Loss::Spill | Loss::Sample => {
            let basis = basis_of(vessel, &book::list_of(tx, vessel).await?);
            moves::poured(loss.kind(), (vessel, holds), Account::WrittenOff, volume_ul, basis)
        }
    };
    let Some(draft) = draft else { return Err(more_than_there_is(holds)) };
    book::append(tx, &movement, &[draft]).await?;
    Ok(())
}

/// More was said to be poured than the book has.
pub(super) fn more_than_there_is(holds: Amount) -> WriteError {
    let there = volume::in_words(holds.volume_ul);
    FieldErrors::one(
        "volume",
        format!("is more than the book allows: it has {there} there. Measure the volume first if that is wrong"),
    )
    .into()
}
