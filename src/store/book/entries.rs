//! The book read: all of it, a page of it, what concerns a vessel or a movement, and its sums.

use sqlx::SqliteConnection;

use crate::domain::{
    book::{Account, Amount, Basis, Entry, MovementKind, Silver, Vessel, laws::Totals},
    ids::{BatchId, ContainerId, MovementId, PersonId},
    instant::Instant,
};

use crate::store::Error;

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

/// When the last thing happened to a vessel, of everything written so far.
///
/// # Errors
/// When the database cannot be used.
pub(super) async fn last_happened_at(conn: &mut SqliteConnection, vessel: Vessel) -> Result<Option<Instant>, Error> {
    let account = Account::from(vessel);
    let (batch, container) = (account.batch(), account.container());
    let at = sqlx::query_scalar!(
        r#"SELECT max(at) AS "at: Instant" FROM (
               SELECT max(happened_at) AS at FROM book_entry WHERE to_batch = ?1
               UNION ALL SELECT max(happened_at) FROM book_entry WHERE from_batch = ?1
               UNION ALL SELECT max(happened_at) FROM book_entry WHERE to_container = ?2
               UNION ALL SELECT max(happened_at) FROM book_entry WHERE from_container = ?2)"#,
        batch,
        container
    )
    .fetch_one(conn)
    .await?;
    Ok(at)
}

/// The entries of the readings of a vessel that stand. Asked at every sheet, so the many other
/// entries stay in the database.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn list_readings_of(
    conn: &mut SqliteConnection,
    vessel: Vessel,
) -> Result<Vec<Entry>, Error> {
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

/// The standing entries of the movements that rest on one.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn list_resting_on(
    conn: &mut SqliteConnection,
    movement: MovementId,
) -> Result<Vec<Entry>, Error> {
    entries!(
        conn,
        "WHERE movement_id IN (SELECT id FROM movement WHERE rests_on = ?1)
           AND NOT EXISTS (SELECT 1 FROM book_entry back WHERE back.reverses = book_entry.entry)",
        movement
    )
}

/// A page of the book, newest entry first: so many of those before a number.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_page(conn: &mut SqliteConnection, before: i64, at_most: i64) -> Result<Vec<Entry>, Error> {
    let mut page: Vec<Entry> = {
        let page: Result<Vec<Entry>, Error> = entries!(
            conn,
            "WHERE entry IN (SELECT entry FROM book_entry WHERE entry < ?1 ORDER BY entry DESC LIMIT ?2)",
            before,
            at_most
        );
        page?
    };
    page.reverse();
    Ok(page)
}

/// The entries of waste that happened between two moments (from the first on, before the second), each
/// reversal with the entry it takes back, in the book's order.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_waste(conn: &mut SqliteConnection, from: Instant, before: Instant) -> Result<Vec<Entry>, Error> {
    entries!(
        conn,
        "WHERE (from_container IS NOT NULL OR to_container IS NOT NULL OR from_account = 'discharged'
                OR to_account = 'discharged')
           AND ((reverses IS NULL AND happened_at >= ?1 AND happened_at < ?2)
                OR reverses IN (SELECT entry FROM book_entry WHERE happened_at >= ?1 AND happened_at < ?2))",
        from,
        before
    )
}

/// Every entry of waste: what moves something into, within or out of a waste container, and what was
/// discharged from a bath.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_all_waste(conn: &mut SqliteConnection) -> Result<Vec<Entry>, Error> {
    entries!(
        conn,
        "WHERE from_container IS NOT NULL OR to_container IS NOT NULL OR from_account = 'discharged'
            OR to_account = 'discharged'"
    )
}

/// The silver that went into the wash between two moments (from the first on, before the second), less
/// what was collected from it with a first rinse, by what was written before a third.
///
/// # Errors
/// When the database cannot be used.
pub async fn washed(
    conn: &mut SqliteConnection,
    (from, before): (Instant, Instant),
    known_before: Instant,
) -> Result<Silver, Error> {
    let row = sqlx::query!(
        r#"SELECT coalesce(sum(silver_ug * sign), 0) AS "best_ug!: i64",
                  coalesce(sum(silver_low_ug * sign), 0) AS "low_ug!: i64",
                  coalesce(sum(silver_high_ug * sign), 0) AS "high_ug!: i64"
           FROM (SELECT entry, silver_ug, silver_low_ug, silver_high_ug,
                        CASE WHEN to_account = 'wash' THEN 1 ELSE -1 END AS sign
                 FROM book_entry
                 WHERE (to_account = 'wash' OR from_account = 'wash') AND reverses IS NULL
                   AND happened_at >= ?1 AND happened_at < ?2 AND recorded_at < ?3) AS moved
           WHERE NOT EXISTS (SELECT 1 FROM book_entry back
                             WHERE back.reverses = moved.entry AND back.recorded_at < ?3)"#,
        from,
        before,
        known_before
    )
    .fetch_one(conn)
    .await?;
    Ok(Silver { best_ug: row.best_ug, low_ug: row.low_ug, high_ug: row.high_ug })
}

/// Of these entries' numbers, which were taken back by which: `(entry, its reversal)`.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_reversals_among(
    conn: &mut SqliteConnection,
    (first, last): (i64, i64),
) -> Result<Vec<(i64, i64)>, Error> {
    let rows = sqlx::query!(
        r#"SELECT reverses AS "reverses!: i64", entry FROM book_entry WHERE reverses BETWEEN ? AND ?"#,
        first,
        last
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(|row| (row.reverses, row.entry)).collect())
}

/// The number of the last entry; nought in an empty book.
///
/// # Errors
/// When the database cannot be used.
pub async fn last_entry(conn: &mut SqliteConnection) -> Result<i64, Error> {
    let last =
        sqlx::query_scalar!(r#"SELECT coalesce(max(entry), 0) AS "n!: i64" FROM book_entry"#).fetch_one(conn).await?;
    Ok(last)
}

/// How many entries there are.
///
/// # Errors
/// When the database cannot be used.
pub async fn count(conn: &mut SqliteConnection) -> Result<i64, Error> {
    let count = sqlx::query_scalar!(r#"SELECT count(*) AS "n!: i64" FROM book_entry"#).fetch_one(conn).await?;
    Ok(count)
}

struct EndRow {
    account: String,
    volume_ul: i64,
    best_ug: i64,
    low_ug: i64,
    high_ug: i64,
}

/// What each end of the book gave (below zero) or took (above zero), added up in the database in whole
/// numbers.
async fn ends(conn: &mut SqliteConnection) -> Result<Vec<(Account, Amount)>, Error> {
    let rows = sqlx::query_as!(
        EndRow,
        r#"SELECT account AS "account!: String", sum(volume_ul) AS "volume_ul!: i64", sum(silver_ug) AS "best_ug!: i64",
                  sum(silver_low_ug) AS "low_ug!: i64", sum(silver_high_ug) AS "high_ug!: i64"
           FROM (
               SELECT to_account AS account, volume_ul, silver_ug, silver_low_ug, silver_high_ug FROM book_entry
               UNION ALL
               SELECT from_account, -volume_ul, -silver_ug, -silver_low_ug, -silver_high_ug FROM book_entry)
           WHERE account NOT IN ('batch', 'container') GROUP BY account"#
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter()
        .map(|row| {
            let wrong = || Error::Inconsistent { table: "book_entry", column: "to_account", id: row.account.clone() };
            let account = Account::from_parts(&row.account, None, None).ok_or_else(wrong)?;
            let silver = Silver { best_ug: row.best_ug, low_ug: row.low_ug, high_ug: row.high_ug };
            Ok((account, Amount { volume_ul: row.volume_ul, silver }))
        })
        .collect()
}

/// What the sources gave and the sinks took, without reading every entry.
///
/// # Errors
/// When the database cannot be used.
pub async fn totals(conn: &mut SqliteConnection) -> Result<Totals, Error> {
    let mut totals = Totals::default();
    for (account, took) in ends(conn).await? {
        if account.is_source() {
            totals.sources -= took;
        } else {
            totals.sinks += took;
        }
    }
    Ok(totals)
}

/// The silver that sheets carried into the wash and that was not collected with a first rinse.
///
/// # Errors
/// When the database cannot be used.
pub async fn wash_silver(conn: &mut SqliteConnection) -> Result<Silver, Error> {
    let ends = ends(conn).await?;
    Ok(ends
        .into_iter()
        .find(|(account, _)| *account == Account::Wash)
        .map_or(Silver::NONE, |(_, took)| took.silver.above_zero()))
}

/// The newest entry of a collected rinse that stands and took silver out of the wash.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn find_last_rinse(conn: &mut SqliteConnection) -> Result<Option<i64>, Error> {
    let entry = sqlx::query_scalar!(
        r#"SELECT max(entry) AS "entry: i64" FROM book_entry
           WHERE kind = 'rinse' AND from_account = 'wash'
             AND NOT EXISTS (SELECT 1 FROM book_entry back WHERE back.reverses = book_entry.entry)"#
    )
    .fetch_one(conn)
    .await?;
    Ok(entry)
}

/// When the first thing happened to a waste container, if anything did.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_first_waste(conn: &mut SqliteConnection) -> Result<Option<Instant>, Error> {
    let at = sqlx::query_scalar!(
        r#"SELECT min(happened_at) AS "at: Instant" FROM book_entry
           WHERE from_container IS NOT NULL OR to_container IS NOT NULL OR to_account = 'discharged'"#
    )
    .fetch_one(conn)
    .await?;
    Ok(at)
}
