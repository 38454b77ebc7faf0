//! The silver book as stored: movements, and the entries they cause. Append-only. Here it is written;
//! [`entries`] reads it, [`causes`] holds movements against their records.

pub mod movements;
pub mod reversals;

mod causes;
mod dates;
pub(in crate::store) mod entries;
pub(in crate::store) mod mirror;
mod waste_source;

use sqlx::SqliteConnection;

use crate::domain::{
    book::{Account, Act, Amount, Balances, Basis, Draft, MovementKind, Overdrawn, Silver, Vessel, basis_of, written},
    field_errors::FieldErrors,
    ids::{MovementId, PersonId, SiteId},
    instant::Instant,
    measure::volume,
    people::actor::Actor,
};

pub use causes::{find_movement, list_movements};
pub(super) use causes::{list_causes, list_miscaused};
pub(super) use dates::{Stood, bath_at, holds_at, stood, wash_silver_at};
pub use entries::{
    count, find_first_waste, last_entry, list, list_all_waste, list_of, list_of_movement, list_page,
    list_reversals_among, list_reversals_of, list_waste, totals, wash_silver, washed,
};
pub(super) use entries::{find_last_rinse, list_readings_of, list_resting_on};
pub use waste_source::WasteSource;

use super::{Error, WriteError, baths::batches, waste::containers};

/// The record that causes entries: what kind of movement, when, by whom.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Movement {
    /// Its id.
    pub id: MovementId,
    /// Where.
    pub site: SiteId,
    /// What kind.
    pub kind: MovementKind,
    /// When it happened.
    pub happened_at: Instant,
    /// When it was written.
    pub recorded_at: Instant,
    /// Who wrote it.
    pub recorded_by: PersonId,
    /// Anything else; a spill's reason, a reversal's why.
    pub remark: String,
    /// The movement this one counts on: that one stays while this one does.
    pub rests_on: Option<MovementId>,
}

impl Movement {
    /// When and by whom.
    pub fn act(&self) -> Act {
        Act {
            movement: self.id,
            happened_at: self.happened_at,
            recorded_at: self.recorded_at,
            recorded_by: self.recorded_by,
        }
    }
}

/// The person behind a movement: every entry names one.
///
/// # Errors
/// [`WriteError::Forbidden`] when nobody is signed in.
pub fn person(actor: Actor) -> Result<PersonId, WriteError> {
    actor.person().ok_or(WriteError::Forbidden("every entry of the silver book names a person"))
}

/// Writes a movement and its entries, in order, and keeps the first drop of each container right.
/// Gives the number of the first entry.
///
/// # Errors
/// Refused when a vessel is retired or removed; when it would fall below zero in volume or in any of its
/// silver estimates, now or at any instant since the movement happened; when something happened to it
/// after what closes it for good; or when a container would hold more than it takes. Then nothing is
/// stored.
pub async fn append(tx: &mut SqliteConnection, movement: &Movement, drafts: &[Draft]) -> Result<i64, WriteError> {
    let mut balances = Balances::default();
    for vessel in vessels(drafts) {
        refuse_closed(tx, vessel).await?;
        balances.set(vessel, balance(tx, vessel).await?);
    }
    for draft in drafts {
        if let Err(overdrawn) = balances.apply(draft) {
            // what is typed in late is told which later moment it would make impossible
            if draft.reverses.is_none() {
                dates::refuse_impossible(tx, overdrawn.vessel, movement, drafts).await?;
            }
            return Err(too_little(tx, overdrawn).await?);
        }
    }
    for (vessel, holds) in balances.iter() {
        refuse_overflow(tx, vessel, holds, drafts).await?;
        dates::refuse_impossible(tx, vessel, movement, drafts).await?;
    }
    insert_movement(tx, movement).await?;
    let mut first = None;
    for draft in drafts {
        let number = insert_entry(tx, movement, draft).await?;
        first.get_or_insert(number);
    }
    for container in vessels(drafts).into_iter().filter_map(|vessel| Account::from(vessel).container()) {
        containers::update_first_drop(tx, container).await?;
    }
    Ok(first.unwrap_or_default())
}

fn vessels(drafts: &[Draft]) -> Vec<Vessel> {
    let mut vessels: Vec<Vessel> =
        drafts.iter().flat_map(|draft| [draft.from, draft.to]).filter_map(Account::vessel).collect();
    vessels.sort_unstable();
    vessels.dedup();
    vessels
}

async fn refuse_closed(tx: &mut SqliteConnection, vessel: Vessel) -> Result<(), WriteError> {
    let closed = match vessel {
        Vessel::Batch(id) => {
            let batch = batches::find(tx, id).await?.ok_or(WriteError::Missing("batch"))?;
            (!batch.in_use()).then(|| format!("{} is retired: take its retiring back first", batch.name()))
        }
        Vessel::Container(id) => {
            let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("waste container"))?;
            if container.is_put_away() {
                Some(format!("{} was put away: take it out again first", container.name()))
            } else {
                container.is_removed().then(|| format!("{} was removed: take its removal back first", container.name()))
            }
        }
    };
    closed.map_or(Ok(()), |words| Err(FieldErrors::whole(words).into()))
}

async fn too_little(tx: &mut SqliteConnection, overdrawn: Overdrawn) -> Result<WriteError, Error> {
    let name = vessel_name(tx, overdrawn.vessel).await?;
    let holds = overdrawn.holds;
    Ok(FieldErrors::whole(format!(
        "by the book {name} holds {} with {} of silver, and this would take more than its {}: measure what is there \
         first, or take back what was booked wrongly",
        volume::in_words(holds.volume_ul),
        written::grams(holds.silver),
        overdrawn.what
    ))
    .into())
}

async fn refuse_overflow(
    tx: &mut SqliteConnection,
    vessel: Vessel,
    holds: Amount,
    drafts: &[Draft],
) -> Result<(), WriteError> {
    let Vessel::Container(id) = vessel else { return Ok(()) };
    let poured_in = drafts
        .iter()
        .any(|draft| draft.to == Account::from(vessel) && draft.amount.volume_ul > 0 && draft.reverses.is_none());
    let capacity = containers::find(tx, id).await?.map_or(i64::MAX, |container| container.capacity_ul);
    if poured_in && holds.volume_ul > capacity {
        let name = vessel_name(tx, vessel).await?;
        return Err(FieldErrors::whole(format!(
            "{name} takes {}, and with this it would hold {} by the book: measure what is in it first, or pour into \
             another",
            volume::in_words(capacity),
            volume::in_words(holds.volume_ul)
        ))
        .into());
    }
    Ok(())
}

/// For people: `fixer 3`, `waste container 2`.
///
/// # Errors
/// When the database cannot be used.
pub async fn vessel_name(conn: &mut SqliteConnection, vessel: Vessel) -> Result<String, Error> {
    let name = match vessel {
        Vessel::Batch(id) => batches::find(conn, id).await?.map(|batch| batch.name()),
        Vessel::Container(id) => containers::find(conn, id).await?.map(|container| container.name()),
    };
    Ok(name.unwrap_or_else(|| "a vessel that is not there".to_owned()))
}

async fn insert_movement(tx: &mut SqliteConnection, movement: &Movement) -> Result<(), Error> {
    let kind = movement.kind.as_str();
    sqlx::query!(
        "INSERT INTO movement (id, site_id, kind, happened_at, recorded_at, recorded_by, remark, rests_on)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        movement.id,
        movement.site,
        kind,
        movement.happened_at,
        movement.recorded_at,
        movement.recorded_by,
        movement.remark,
        movement.rests_on
    )
    .execute(tx)
    .await?;
    Ok(())
}

async fn insert_entry(tx: &mut SqliteConnection, movement: &Movement, draft: &Draft) -> Result<i64, Error> {
    let (kind, from, to, basis) = (draft.kind.as_str(), draft.from.word(), draft.to.word(), draft.basis.as_str());
    let (from_batch, from_container) = (draft.from.batch(), draft.from.container());
    let (to_batch, to_container) = (draft.to.batch(), draft.to.container());
    let Amount { volume_ul, silver } = draft.amount;
    let done = sqlx::query!(
        "INSERT INTO book_entry (site_id, movement_id, happened_at, recorded_at, kind, from_account, from_batch,
             from_container, to_account, to_batch, to_container, volume_ul, silver_ug, silver_low_ug, silver_high_ug,
             basis, reverses, recorded_by, remark)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        movement.site,
        movement.id,
        movement.happened_at,
        movement.recorded_at,
        kind,
        from,
        from_batch,
        from_container,
        to,
        to_batch,
        to_container,
        volume_ul,
        silver.best_ug,
        silver.low_ug,
        silver.high_ug,
        basis,
        draft.reverses,
        movement.recorded_by,
        movement.remark
    )
    .execute(tx)
    .await?;
    Ok(done.last_insert_rowid())
}

/// What stands in a vessel.
///
/// # Errors
/// When the database cannot be used.
pub async fn balance(conn: &mut SqliteConnection, vessel: Vessel) -> Result<Amount, Error> {
    let account = Account::from(vessel);
    let (batch, container) = (account.batch(), account.container());
    // four indexed look-ups: NULL equals nothing, so that those of the other table find nothing
    let row = sqlx::query!(
        r#"SELECT coalesce(sum(volume_ul), 0) AS "volume_ul!: i64", coalesce(sum(silver_ug), 0) AS "best_ug!: i64",
                  coalesce(sum(silver_low_ug), 0) AS "low_ug!: i64", coalesce(sum(silver_high_ug), 0) AS "high_ug!: i64"
           FROM (
               SELECT volume_ul, silver_ug, silver_low_ug, silver_high_ug FROM book_entry WHERE to_batch = ?1
               UNION ALL
               SELECT -volume_ul, -silver_ug, -silver_low_ug, -silver_high_ug FROM book_entry WHERE from_batch = ?1
               UNION ALL
               SELECT volume_ul, silver_ug, silver_low_ug, silver_high_ug FROM book_entry WHERE to_container = ?2
               UNION ALL
               SELECT -volume_ul, -silver_ug, -silver_low_ug, -silver_high_ug FROM book_entry
               WHERE from_container = ?2)"#,
        batch,
        container
    )
    .fetch_one(conn)
    .await?;
    Ok(Amount {
        volume_ul: row.volume_ul,
        silver: Silver { best_ug: row.best_ug, low_ug: row.low_ug, high_ug: row.high_ug },
    })
}

/// What stands in a vessel, and what its silver figure rests on.
///
/// # Errors
/// When the database cannot be used.
pub async fn balance_and_basis(conn: &mut SqliteConnection, vessel: Vessel) -> Result<(Amount, Basis), Error> {
    let entries = list_of(conn, vessel).await?;
    let holds = entries.iter().fold(Amount::NOTHING, |sum, entry| sum + entry.effect_on(vessel));
    Ok((holds, basis_of(vessel, &entries)))
}
