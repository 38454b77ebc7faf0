//! Waste containers.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::domain::{
    ids::{ContainerId, SiteId},
    instant::Instant,
    stock::product::ProductKind,
    waste::{
        container::{Container, Contents, Life, Marks},
        held::Held,
        standing_volume::{Poured, StandingVolume},
    },
};

use crate::store::Error;

struct ContainerRow {
    id: ContainerId,
    site_id: SiteId,
    label_number: i64,
    contents: String,
    hazards: String,
    place: String,
    capacity_ul: i64,
    state: String,
    first_drop_at: Option<Instant>,
    full_at: Option<Instant>,
    moved_at: Option<Instant>,
    removed_at: Option<Instant>,
    put_away_at: Option<Instant>,
    version: i64,
}

impl TryFrom<ContainerRow> for Container {
    type Error = Error;
    fn try_from(row: ContainerRow) -> Result<Self, Error> {
        let wrong = |column| Error::Inconsistent { table: "waste_container", column, id: row.id.to_string() };
        let marks = Marks { full_at: row.full_at, moved_at: row.moved_at };
        let life = Life::from_parts(&row.state, marks, row.removed_at, row.put_away_at);
        Ok(Self {
            id: row.id,
            site: row.site_id,
            label_number: row.label_number,
            contents: Contents::from_word(&row.contents).ok_or_else(|| wrong("contents"))?,
            hazards: row.hazards,
            place: row.place,
            capacity_ul: row.capacity_ul,
            life: life.ok_or_else(|| wrong("state"))?,
            first_drop_at: row.first_drop_at,
            version: row.version,
        })
    }
}

/// One container.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: ContainerId) -> Result<Option<Container>, Error> {
    let row = sqlx::query_as!(
        ContainerRow,
        "SELECT id, site_id, label_number, contents, hazards, place, capacity_ul, state, first_drop_at, full_at,
                moved_at, removed_at, put_away_at, version
         FROM waste_container WHERE id = ?",
        id
    )
    .fetch_optional(conn)
    .await?;
    row.map(Container::try_from).transpose()
}

/// All containers, in the order of their numbers.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Container>, Error> {
    let rows = sqlx::query_as!(
        ContainerRow,
        "SELECT id, site_id, label_number, contents, hazards, place, capacity_ul, state, first_drop_at, full_at,
                moved_at, removed_at, put_away_at, version
         FROM waste_container ORDER BY label_number, id"
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Container::try_from).collect()
}

/// The next free label number of a site.
///
/// # Errors
/// When the database cannot be used.
pub async fn next_label_number(conn: &mut SqliteConnection, site: SiteId) -> Result<i64, Error> {
    let row = sqlx::query!(
        r#"SELECT coalesce(max(label_number), 0) + 1 AS "next!: i64" FROM waste_container WHERE site_id = ?"#,
        site
    )
    .fetch_one(conn)
    .await?;
    Ok(row.next)
}

/// Stores a new, empty container.
///
/// # Errors
/// When the database cannot be used.
pub async fn insert(tx: &mut SqliteConnection, container: &Container, at: Instant) -> Result<(), Error> {
    let contents = container.contents.as_str();
    sqlx::query!(
        "INSERT INTO waste_container (id, site_id, label_number, contents, hazards, place, capacity_ul, created_at)
         VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        container.id,
        container.site,
        container.label_number,
        contents,
        container.hazards,
        container.place,
        container.capacity_ul,
        at
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Stores what a person edits (hazards, place, capacity, life) if the version still stands; gives
/// whether it did.
///
/// # Errors
/// When the database cannot be used.
pub async fn update(tx: &mut SqliteConnection, container: &Container) -> Result<bool, Error> {
    let (contents, state) = (container.contents.as_str(), container.state().as_str());
    let Marks { full_at, moved_at } = container.life.marks();
    let (removed_at, put_away_at) = match container.life {
        Life::Here(_) => (None, None),
        Life::PutAway { at, .. } => (None, Some(at)),
        Life::Removed { at, .. } => (Some(at), None),
    };
    let done = sqlx::query!(
        "UPDATE waste_container SET contents = ?, hazards = ?, place = ?, capacity_ul = ?, state = ?, full_at = ?,
             moved_at = ?, removed_at = ?, put_away_at = ?, version = version + 1
         WHERE id = ? AND version = ?",
        contents,
        container.hazards,
        container.place,
        container.capacity_ul,
        state,
        full_at,
        moved_at,
        removed_at,
        put_away_at,
        container.id,
        container.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Everything that ever went into a container and was not taken back, by the book: baths by their
/// kind, rinse, scrap, and what stood in it when the book was begun by its label. What came in from
/// another container is what that one held until then, however many pours ago it was mixed.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_held(conn: &mut SqliteConnection, id: ContainerId) -> Result<Vec<Held>, Error> {
    let rows = sqlx::query!(
        r#"WITH RECURSIVE
             standing AS (
               SELECT entry, kind, from_batch, from_container, to_container FROM book_entry poured
               WHERE to_container IS NOT NULL AND reverses IS NULL
                 AND (volume_ul > 0 OR kind IN ('scrap', 'opening'))
                 AND NOT EXISTS (SELECT 1 FROM book_entry back WHERE back.reverses = poured.entry)),
             fed (container, before) AS (
               SELECT ?1, 9223372036854775807
               UNION
               SELECT standing.from_container, standing.entry FROM standing
               JOIN fed ON standing.to_container = fed.container AND standing.entry < fed.before
               WHERE standing.from_container IS NOT NULL)
           SELECT DISTINCT standing.kind AS "kind!: String", batch.kind AS "bath?: String",
                  label.contents AS "contents!: String"
           FROM fed JOIN standing ON standing.to_container = fed.container AND standing.entry < fed.before
           JOIN waste_container label ON label.id = fed.container
           LEFT JOIN batch ON batch.id = standing.from_batch"#,
        id
    )
    .fetch_all(conn)
    .await?;
    let wrong = |column| Error::Inconsistent { table: "waste_container", column, id: id.to_string() };
    let mut held = Vec::new();
    for row in rows {
        let one = match (row.kind.as_str(), row.bath.as_deref()) {
            (_, Some(bath)) => Held::Bath(ProductKind::from_word(bath).ok_or_else(|| wrong("contents"))?),
            ("rinse", None) => Held::Rinse,
            ("scrap", None) => Held::Scrap,
            ("opening", None) => Held::by_label(Contents::from_word(&row.contents).ok_or_else(|| wrong("contents"))?),
            // water that a measurement found, and what came from another container
            _ => continue,
        };
        held.push(one);
    }
    held.sort_unstable();
    held.dedup();
    Ok(held)
}

/// Sets the accumulation start from the book: when the first drop that stands went in. No version:
/// nobody edits it.
///
/// # Errors
/// When the database cannot be used.
pub(in crate::store) async fn update_first_drop(tx: &mut SqliteConnection, id: ContainerId) -> Result<(), Error> {
    sqlx::query!(
        "UPDATE waste_container SET first_drop_at = (
             SELECT min(drop_in.happened_at) FROM book_entry drop_in
             WHERE drop_in.to_container = ?1 AND (drop_in.volume_ul > 0 OR drop_in.kind = 'scrap') AND drop_in.reverses IS NULL
               AND NOT EXISTS (SELECT 1 FROM book_entry back WHERE back.reverses = drop_in.entry))
         WHERE id = ?1",
        id
    )
    .execute(tx)
    .await?;
    Ok(())
}

/// Everything poured into and out of containers that stands, for what stands here over time.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_poured(conn: &mut SqliteConnection) -> Result<Vec<Poured>, Error> {
    let rows = sqlx::query!(
        r#"SELECT id AS "id!: ContainerId", at AS "at!: Instant", volume_ul AS "volume_ul!: i64" FROM (
               SELECT to_container AS id, happened_at AS at, volume_ul FROM book_entry poured
               WHERE to_container IS NOT NULL AND volume_ul > 0 AND reverses IS NULL
                 AND NOT EXISTS (SELECT 1 FROM book_entry back WHERE back.reverses = poured.entry)
               UNION ALL
               SELECT from_container, happened_at, -volume_ul FROM book_entry poured
               WHERE from_container IS NOT NULL AND volume_ul > 0 AND reverses IS NULL
                 AND NOT EXISTS (SELECT 1 FROM book_entry back WHERE back.reverses = poured.entry))"#
    )
    .fetch_all(conn)
    .await?;
    Ok(rows.into_iter().map(|row| Poured { container: row.id, at: row.at, volume_ul: row.volume_ul }).collect())
}

/// What stands here over time, in all containers not moved.
///
/// # Errors
/// When the database cannot be used.
pub async fn standing_volume(conn: &mut SqliteConnection) -> Result<StandingVolume, Error> {
    let moved: BTreeMap<ContainerId, Instant> =
        list(conn).await?.into_iter().filter_map(|container| Some((container.id, container.moved_at()?))).collect();
    Ok(StandingVolume::of(&list_poured(conn).await?, &moved))
}
