//! How much there is: volumes measured, silver read, spills and samples written off.

use sqlx::SqliteConnection;

use crate::domain::{
    baths::shortfall::{Missing, asks_whence, asks_why},
    book::{Account, Amount, Draft, MovementKind, Silver, Vessel, course::stood_at, moves},
    field_errors::FieldErrors,
    ids::ReadingId,
    measure::volume,
    waste::reading::{Method, Reading},
};

use super::{Occasion, begin, with_one};
use crate::store::{
    WriteError,
    baths::sheet_runs,
    book::{self, Stood},
    waste::readings,
};

/// The volume was measured: the book follows, without silver but for what was spilled.
///
/// # Errors
/// Refused when more is missing than sheets carried off and nobody says where it went; or when nothing
/// is left and the book has silver there: that has to go somewhere.
pub async fn measure(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    vessel: Vessel,
    measured_ul: i64,
    missing: Option<Missing>,
) -> Result<(), WriteError> {
    let movement = begin(tx, &occasion.with_missing(missing), vessel, MovementKind::Measuring).await?;
    let stood = book::stood(tx, vessel, occasion.happened_at).await?;
    let (drafts, _) = adjusted(tx, (vessel, &stood), measured_ul, missing, &occasion.remark).await?;
    book::append(tx, &movement, &with_one(drafts, MovementKind::Measuring, vessel)).await?;
    Ok(())
}

/// What a measurement books, and what then stands there: an excess came as water; a shortfall is
/// written off without silver, or with its share when it was spilled.
pub(super) async fn adjusted(
    tx: &mut SqliteConnection,
    (vessel, stood): (Vessel, &Stood),
    measured_ul: i64,
    missing: Option<Missing>,
    remark: &str,
) -> Result<(Vec<Draft>, Amount), WriteError> {
    let holds = stood.holds;
    let short_ul = holds.volume_ul - measured_ul;
    let carried_ul = match vessel {
        Vessel::Batch(id) => sheet_runs::carried_off_unbooked(tx, id).await?,
        Vessel::Container(_) => 0,
    };
    if missing.is_none() && asks_why(short_ul, holds.volume_ul, carried_ul) {
        let words = format!(
            "must be said: by the book {} are there, so {} are missing",
            volume::in_words(holds.volume_ul),
            volume::in_words(short_ul)
        );
        return Err(FieldErrors::one("missing", words).into());
    }
    if short_ul > 0 && missing == Some(Missing::Otherwise) && remark.trim().is_empty() {
        return Err(FieldErrors::one("remark", "must say where what is missing went").into());
    }
    if asks_whence(-short_ul, holds.volume_ul) && remark.trim().is_empty() {
        let words = format!(
            "is {} more than the book has there ({}): check the figure, or say under “Remark” where that came from",
            volume::in_words(-short_ul),
            volume::in_words(holds.volume_ul)
        );
        return Err(FieldErrors::one("measured", words).into());
    }
    let drafts: Vec<Draft> = if short_ul > 0 && missing == Some(Missing::Spilled) {
        let (to, basis) = (Account::WrittenOff, stood.basis);
        moves::poured(MovementKind::Spill, (vessel, holds), to, short_ul, basis).into_iter().collect()
    } else {
        moves::measured(MovementKind::Measuring, (vessel, holds), measured_ul).into_iter().collect()
    };
    let after = drafts.iter().fold(holds, |sum, draft| {
        if draft.from.vessel() == Some(vessel) { sum - draft.amount } else { sum + draft.amount }
    });
    if measured_ul == 0 && !after.silver.is_none() {
        let words = "cannot be nothing while the book has silver there: what dries up leaves it behind, what was \
                     spilled took it along";
        return Err(FieldErrors::one("measured", words).into());
    }
    Ok((drafts, after))
}

/// The silver was read: what the reading differs from the book at that time is booked, the earlier
/// estimate is kept beside it. Movements after it stand.
///
/// # Errors
/// Refused when the book had no liquid there then.
pub async fn read_silver(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    id: ReadingId,
    vessel: Vessel,
    method: Method,
    ug_per_l: Silver,
) -> Result<(), WriteError> {
    let movement = begin(tx, occasion, vessel, MovementKind::Reading).await?;
    let entries = book::list_of(tx, vessel).await?;
    let then = stood_at(vessel, &entries, occasion.happened_at);
    if then.volume_ul <= 0 {
        return Err(FieldErrors::whole("the book had no liquid there then: measure the volume first").into());
    }
    let drafts = moves::read_at(vessel, &entries, occasion.happened_at, ug_per_l, method.basis());
    book::append(tx, &movement, &drafts).await?;
    let reading = Reading { id, movement: movement.id, vessel, method, ug_per_l, book_ug: then.silver.best_ug };
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
    let stood = book::stood(tx, vessel, occasion.happened_at).await?;
    let holds = stood.holds;
    let draft = match loss {
        Loss::Evaporation if volume_ul < holds.volume_ul => Some(moves::evaporated(vessel, volume_ul)),
        Loss::Evaporation => None,
        Loss::Spill | Loss::Sample => {
            moves::poured(loss.kind(), (vessel, holds), Account::WrittenOff, volume_ul, stood.basis)
        }
    };
    let Some(draft) = draft else { return Err(more_than_there_is(&stood)) };
    book::append(tx, &movement, &[draft]).await?;
    Ok(())
}

/// More was said to be poured than the book has, or had then.
pub(super) fn more_than_there_is(stood: &Stood) -> WriteError {
    let there = volume::in_words(stood.holds.volume_ul);
    let had = if stood.long_ago.is_empty() {
        format!("it has {there} there")
    } else {
        format!("it had {there} there on {}", stood.long_ago)
    };
    let words = format!("is more than the book allows: {had}. Measure the volume first if that is wrong");
    FieldErrors::one("volume", words).into()
}
