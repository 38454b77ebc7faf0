//! The silver book as stored: movements, and the entries they cause. Append-only.

use sqlx::SqliteConnection;

use crate::domain::{
    actor::Actor,
    book::{Account, Amount, Balances, Basis, Draft, Entry, MovementKind, Overdrawn, Silver, Vessel, written},
    field_errors::FieldErrors,
    ids::{BatchId, ContainerId, MovementId, PersonId, SiteId},
    instant::Instant,
    volume,
};

use super::{Error, WriteError, batches, containers};

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
/// Refused when a vessel is retired or removed, would fall below zero in volume or in any of its
/// silver estimates, or a container would hold more than it takes; then nothing is stored.
pub async fn append(tx: &mut SqliteConnection, movement: &Movement, drafts: &[Draft]) -> Result<i64, WriteError> {
    let mut balances = Balances::default();
    for vessel in vessels(drafts) {
        refuse_closed(tx, vessel).await?;
        balances.set(vessel, balance(tx, vessel).await?);
    }
    for draft in drafts {
        if let Err(overdrawn) = balances.apply(draft) {
            return Err(too_little(tx, overdrawn).await?);
        }
    }
    for (vessel, holds) in balances.iter() {
        refuse_overflow(tx, vessel, holds, drafts).await?;
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
            container.is_removed().then(|| format!("{} was removed: take its removal back first", container.name()))
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
        "INSERT INTO movement (id, site_id, kind, happened_at, recorded_at, recorded_by, remark)
         VALUES (?, ?, ?, ?, ?, ?, ?)",
        movement.id,
        movement.site,
        kind,
        movement.happened_at,
        movement.recorded_at,
        movement.recorded_by,
        movement.remark
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

struct EntryRow {
    entry: i64,
    movement_id: MovementId,
    happened_at: Instant,
    recorded_at: Instant,
    kind: String,
    from_account: String,
    from_batch: Option<BatchId>,
    from_container: Option<ContainerId>,
    to_account: String,
    to_batch: Option<BatchId>,
    to_container: Option<ContainerId>,
    volume_ul: i64,
    silver_ug: i64,
    silver_low_ug: i64,
    silver_high_ug: i64,
    basis: String,
    reverses: Option<i64>,
    recorded_by: PersonId,
    remark: String,
}

impl TryFrom<EntryRow> for Entry {
    type Error = Error;
    fn try_from(row: EntryRow) -> Result<Self, Error> {
        let wrong = |column| Error::Inconsistent { table: "book_entry", column, id: row.entry.to_string() };
        let account = Account::from_parts;
        Ok(Self {
            number: row.entry,
            movement: row.movement_id,
            happened_at: row.happened_at,
            recorded_at: row.recorded_at,
            kind: MovementKind::from_word(&row.kind).ok_or_else(|| wrong("kind"))?,
            from: account(&row.from_account, row.from_batch, row.from_container)
                .ok_or_else(|| wrong("from_account"))?,
            to: account(&row.to_account, row.to_batch, row.to_container).ok_or_else(|| wrong("to_account"))?,
            amount: Amount {
                volume_ul: row.volume_ul,
                silver: Silver { best_ug: row.silver_ug, low_ug: row.silver_low_ug, high_ug: row.silver_high_ug },
            },
            basis: Basis::from_word(&row.basis).ok_or_else(|| wrong("basis"))?,
            reverses: row.reverses,
            recorded_by: row.recorded_by,
            remark: row.remark,
        })
    }
}

/// Entries in the book's order, of those that a condition names.
macro_rules! entries {
    ($conn:expr, $condition:tt $(, $bound:expr)*) => {
        sqlx::query_as!(
            EntryRow,
            "SELECT entry, movement_id, happened_at, recorded_at, kind, from_account, from_batch, from_container,
                    to_account, to_batch, to_container, volume_ul, silver_ug, silver_low_ug, silver_high_ug, basis,
                    reverses, recorded_by, remark
             FROM book_entry " + $condition + " ORDER BY entry"
            $(, $bound)*
        )
        .fetch_all($conn)
        .await?
        .into_iter()
        .map(Entry::try_from)
        .collect()
    };
}

/// The whole book, oldest entry first.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Entry>, Error> {
    entries!(conn, "WHERE true")
}

/// The entries into and out of a vessel.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of(conn: &mut SqliteConnection, vessel: Vessel) -> Result<Vec<Entry>, Error> {
    match vessel {
        Vessel::Batch(id) => entries!(conn, "WHERE from_batch = ?1 OR to_batch = ?1", id),
        Vessel::Container(id) => entries!(conn, "WHERE from_container = ?1 OR to_container = ?1", id),
    }
}

/// The entries of the readings of a vessel that stand. Asked at every sheet, so the many other
/// entries stay in the database.
///
/// # Errors
/// When the database cannot be used.
pub(super) async fn list_readings_of(conn: &mut SqliteConnection, vessel: Vessel) -> Result<Vec<Entry>, Error> {
    let account = Account::from(vessel);
    let (batch, container) = (account.batch(), account.container());
    entries!(
        conn,
        "WHERE reverses IS NULL
           AND movement_id IN (SELECT movement_id FROM silver_reading WHERE batch_id = ?1 OR container_id = ?2)
           AND NOT EXISTS (SELECT 1 FROM book_entry back WHERE back.reverses = book_entry.entry)",
        batch,
        container
    )
}

/// The entries that a movement caused.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_movement(conn: &mut SqliteConnection, movement: MovementId) -> Result<Vec<Entry>, Error> {
    entries!(conn, "WHERE movement_id = ?1", movement)
}

/// The entries that take back those of a movement.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_reversals_of(conn: &mut SqliteConnection, movement: MovementId) -> Result<Vec<Entry>, Error> {
    entries!(conn, "WHERE reverses IN (SELECT entry FROM book_entry WHERE movement_id = ?1)", movement)
}

/// The entries of movements with this remark, and those that take them back.
///
/// # Errors
/// When the database cannot be used.
pub(super) async fn list_by_remark(conn: &mut SqliteConnection, remark: &str) -> Result<Vec<Entry>, Error> {
    entries!(
        conn,
        "WHERE movement_id IN (SELECT id FROM movement WHERE kind = 'sheet' AND remark = ?1)
            OR reverses IN (SELECT entry FROM book_entry WHERE kind = 'sheet' AND remark = ?1)",
        remark
    )
}

struct MovementRow {
    id: MovementId,
    site_id: SiteId,
    kind: String,
    happened_at: Instant,
    recorded_at: Instant,
    recorded_by: PersonId,
    remark: String,
}

impl TryFrom<MovementRow> for Movement {
    type Error = Error;
    fn try_from(row: MovementRow) -> Result<Self, Error> {
        Ok(Self {
            id: row.id,
            site: row.site_id,
            kind: kind_of(&row.kind, row.id)?,
            happened_at: row.happened_at,
            recorded_at: row.recorded_at,
            recorded_by: row.recorded_by,
            remark: row.remark,
        })
    }
}

fn kind_of(word: &str, id: MovementId) -> Result<MovementKind, Error> {
    let wrong = || Error::Inconsistent { table: "movement", column: "kind", id: id.to_string() };
    MovementKind::from_word(word).ok_or_else(wrong)
}

/// One movement.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_movement(conn: &mut SqliteConnection, id: MovementId) -> Result<Option<Movement>, Error> {
    let row = sqlx::query_as!(
        MovementRow,
        "SELECT id, site_id, kind, happened_at, recorded_at, recorded_by, remark FROM movement WHERE id = ?",
        id
    )
    .fetch_optional(conn)
    .await?;
    row.map(Movement::try_from).transpose()
}

/// All movements.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_movements(conn: &mut SqliteConnection) -> Result<Vec<Movement>, Error> {
    let rows = sqlx::query_as!(
        MovementRow,
        "SELECT id, site_id, kind, happened_at, recorded_at, recorded_by, remark FROM movement ORDER BY id"
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Movement::try_from).collect()
}

/// A movement beside the record that caused it, for [`super::check`].
#[derive(Clone, Copy, Debug)]
pub(super) struct CauseOf {
    pub movement: MovementId,
    pub kind: MovementKind,
    /// Whether the record says that it was taken back; `None` without a record.
    pub undone: Option<bool>,
    /// How many entries it has, and how many of them were taken back.
    pub entries: i64,
    pub reversed: i64,
}

/// Every movement beside its record. Kinds without a record of their own answer for themselves.
pub(super) async fn list_causes(conn: &mut SqliteConnection) -> Result<Vec<CauseOf>, Error> {
    let rows = sqlx::query!(
        r#"SELECT id, kind, entries AS "entries!: i64", reversed AS "reversed!: i64",
                  CASE kind
                      WHEN 'sheet' THEN (SELECT undone_at IS NOT NULL FROM sheet_run WHERE movement_id = caused.id)
                      WHEN 'removal' THEN (SELECT undone_at IS NOT NULL FROM removal WHERE movement_id = caused.id)
                      WHEN 'reading' THEN (SELECT reversed > 0 FROM silver_reading WHERE movement_id = caused.id)
                      WHEN 'discharge' THEN (SELECT reversed > 0 FROM discharge WHERE movement_id = caused.id)
                      ELSE reversed > 0
                  END AS "undone: bool"
           FROM (
               SELECT movement.id, movement.kind,
                      (SELECT count(*) FROM book_entry WHERE movement_id = movement.id) AS entries,
                      (SELECT count(*) FROM book_entry entry JOIN book_entry back ON back.reverses = entry.entry
                       WHERE entry.movement_id = movement.id) AS reversed
               FROM movement) AS caused"#
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter()
        .map(|row| {
            Ok(CauseOf {
                movement: row.id,
                kind: kind_of(&row.kind, row.id)?,
                undone: row.undone,
                entries: row.entries,
                reversed: row.reversed,
            })
        })
        .collect()
}

/// Records that name a movement of another kind: the table's word, and the movement.
pub(super) async fn list_miscaused(conn: &mut SqliteConnection) -> Result<Vec<(String, MovementId)>, Error> {
    let rows = sqlx::query!(
        r#"SELECT record AS "record!: String", id AS "id!: MovementId" FROM (
               SELECT 'a sheet' AS record, movement_id AS id, 'sheet' AS kind FROM sheet_run
               UNION ALL SELECT 'a reading', movement_id, 'reading' FROM silver_reading
               UNION ALL SELECT 'a removal', movement_id, 'removal' FROM removal
               UNION ALL SELECT 'a discharge', movement_id, 'discharge' FROM discharge) AS caused
           WHERE id IS NOT NULL AND kind <> (SELECT movement.kind FROM movement WHERE movement.id = caused.id)"#
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(|row| (row.record, row.id)).collect())
}
