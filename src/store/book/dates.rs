//! The stored book by the time things happened: what stood in a vessel at a moment, and what a movement of
//! an earlier moment would make impossible since.
//!
//! Nearly everything is written down while it is the last thing that happened to its vessel. Then what
//! stands there now is what stood there, and the vessel's entries stay in the database.

use sqlx::SqliteConnection;

use crate::domain::{
    book::{
        Amount, Basis, Draft, Entry, MovementKind, Silver, Vessel, basis_at,
        course::{first_after, least_since, made_impossible, minute, stood_at},
        moves::Bath,
        written,
    },
    field_errors::FieldErrors,
    instant::Instant,
    measure::volume,
};

use super::{
    Movement, balance,
    entries::{last_happened_at, list_of, washed},
    vessel_name,
};
use crate::store::{Error, WriteError, site::sites};

/// What stood in a vessel at a moment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::store) struct Stood {
    /// What stood there.
    pub holds: Amount,
    /// What its silver figure rested on.
    pub basis: Basis,
    /// The least that stood there from then on, each figure for itself.
    pub least: Amount,
    /// The moment in words, when something happened since; empty when nothing did.
    pub long_ago: String,
}

/// What stood in a vessel at a moment, and since.
pub(in crate::store) async fn stood(conn: &mut SqliteConnection, vessel: Vessel, at: Instant) -> Result<Stood, Error> {
    let entries = list_of(conn, vessel).await?;
    let long_ago = if first_after(vessel, &entries, at).is_some() { words_of(conn, at).await? } else { String::new() };
    Ok(Stood {
        holds: stood_at(vessel, &entries, at),
        basis: basis_at(vessel, &entries, at),
        least: least_since(vessel, &entries, at),
        long_ago,
    })
}

/// What stood in a vessel at a moment.
pub(in crate::store) async fn holds_at(
    conn: &mut SqliteConnection,
    vessel: Vessel,
    at: Instant,
) -> Result<Amount, Error> {
    Ok(bath_at(conn, vessel, at).await?.holds)
}

/// A bath as sheets found it at a moment.
pub(in crate::store) async fn bath_at(conn: &mut SqliteConnection, vessel: Vessel, at: Instant) -> Result<Bath, Error> {
    if !happened_since(conn, vessel, at).await? {
        return Ok(Bath::now((vessel, balance(conn, vessel).await?)));
    }
    let entries = list_of(conn, vessel).await?;
    Ok(Bath { vessel, holds: stood_at(vessel, &entries, at), least: least_since(vessel, &entries, at) })
}

/// The silver that the wash had at a moment and still has: so much can be collected from it with a first
/// rinse of that moment.
pub(in crate::store) async fn wash_silver_at(conn: &mut SqliteConnection, at: Instant) -> Result<Silver, Error> {
    let next_minute = at.plus_micros(60_000_000 - at.as_micros().rem_euclid(60_000_000));
    let then = washed(conn, (Instant::FIRST, next_minute), Instant::LAST).await?;
    Ok(then.least(super::wash_silver(conn).await?).above_zero())
}

/// Whether anything happened to a vessel after a moment.
async fn happened_since(conn: &mut SqliteConnection, vessel: Vessel, at: Instant) -> Result<bool, Error> {
    Ok(last_happened_at(conn, vessel).await?.is_some_and(|last| minute(last) > minute(at)))
}

/// A moment in the site's words.
async fn words_of(conn: &mut SqliteConnection, at: Instant) -> Result<String, Error> {
    let zone = sites::find(conn).await?.map_or(jiff::tz::TimeZone::UTC, |site| site.zone);
    Ok(at.as_words(&zone))
}

/// Refuses a movement that would make an instant since it happened impossible, with the first of them and
/// the figure that would fail.
pub(super) async fn refuse_impossible(
    tx: &mut SqliteConnection,
    vessel: Vessel,
    movement: &Movement,
    drafts: &[Draft],
) -> Result<(), WriteError> {
    let takes_back = drafts.iter().any(|draft| draft.reverses.is_some());
    if !takes_back && !happened_since(tx, vessel, movement.happened_at).await? {
        return Ok(());
    }
    let before = list_of(tx, vessel).await?;
    if closes(movement.kind, vessel, drafts)
        && let Some(later) = first_after(vessel, &before, movement.happened_at)
    {
        return Err(followed(tx, vessel, later).await?);
    }
    let act = movement.act();
    // after every number there is
    let next = i64::MAX - 1 - drafts.len() as i64;
    let planned = drafts.iter().zip(next..).map(|(draft, number)| draft.entry(number, &act));
    let with: Vec<Entry> = before.iter().cloned().chain(planned).collect();
    let Some(first) = made_impossible(vessel, &before, &with) else { return Ok(()) };
    let (name, when) = (vessel_name(tx, vessel).await?, words_of(tx, first.at).await?);
    let there =
        format!("{} with {} of silver", volume::in_words(first.holds.volume_ul), written::grams(first.holds.silver));
    let after = if first.entry >= next {
        "this".to_owned()
    } else {
        format!("entry {} ({})", first.entry, first.kind.as_str())
    };
    let way_out = if takes_back {
        "Take that back first"
    } else {
        "Check when it happened and how much it was, or take back what was booked wrongly"
    };
    Err(FieldErrors::whole(format!(
        "with this {name} would have held {there} on {when}, after {after}: that puts its {} below zero. {way_out}",
        first.what
    ))
    .into())
}

/// Whether a movement closes a vessel for good: a batch is retired, a container removed.
fn closes(kind: MovementKind, vessel: Vessel, drafts: &[Draft]) -> bool {
    match vessel {
        Vessel::Batch(_) => kind == MovementKind::Retiring,
        Vessel::Container(id) => {
            kind == MovementKind::Removal && drafts.iter().any(|draft| draft.from.container() == Some(id))
        }
    }
}

async fn followed(tx: &mut SqliteConnection, vessel: Vessel, later: &Entry) -> Result<WriteError, Error> {
    let (name, when) = (vessel_name(tx, vessel).await?, words_of(tx, later.happened_at).await?);
    let words = format!(
        "must not lie before what happened to {name} on {when}: entry {} ({}). Give the time it left, or take that back \
         first",
        later.number,
        later.kind.as_str()
    );
    Ok(FieldErrors::one("happened_at", words).into())
}
