//! Waste containers.

use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::domain::{
    container::{Container, ContainerState, Contents},
    ids::{ContainerId, SiteId},
    instant::Instant,
    product::ProductKind,
    standing_volume::{Poured, StandingVolume},
};

use super::Error;

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
        let state = match (row.state.as_str(), row.removed_at) {
            ("filling", None) => ContainerState::Filling,
            ("full", None) => ContainerState::Full,
            ("removed", Some(at)) => ContainerState::Removed { at },
            _ => return Err(wrong("state")),
        };
        Ok(Self {
            id: row.id,
            site: row.site_id,
            label_number: row.label_number,
            contents: Contents::from_word(&row.contents).ok_or_else(|| wrong("contents"))?,
            hazards: row.hazards,
            place: row.place,
            capacity_ul: row.capacity_ul,
            state,
            first_drop_at: row.first_drop_at,
            full_at: row.full_at,
            moved_at: row.moved_at,
            put_away_at: row.put_away_at,
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
    let (contents, state) = (container.contents.as_str(), container.state.as_str());
    let removed_at = match container.state {
        ContainerState::Removed { at } => Some(at),
        ContainerState::Filling | ContainerState::Full => None,
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
        container.full_at,
        container.moved_at,
        removed_at,
        container.put_away_at,
        container.id,
        container.version
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// What kinds of bath are in a container by the book: of the batches poured in, and of containers
/// poured in, by their labels.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_kinds_in(conn: &mut SqliteConnection, id: ContainerId) -> Result<Vec<ProductKind>, Error> {
    let rows = sqlx::query!(
        r#"SELECT DISTINCT batch.kind AS "kind?", source.contents AS "contents?"
           FROM book_entry poured
           LEFT JOIN batch ON batch.id = poured.from_batch
           LEFT JOIN waste_container source ON source.id = poured.from_container
           WHERE poured.to_container = ? AND poured.volume_ul > 0 AND poured.reverses IS NULL
             AND NOT EXISTS (SELECT 1 FROM book_entry back WHERE back.reverses = poured.entry)"#,
        id
    )
    .fetch_all(conn)
    .await?;
    Ok(rows
        .into_iter()
        .filter_map(|row| match (row.kind, row.contents) {
            (Some(kind), _) => ProductKind::from_word(&kind),
            (None, Some(contents)) => Contents::from_word(&contents)?.kind(),
            (None, None) => None,
        })
        .collect())
}

/// Sets the accumulation start from the book: when the first drop that stands went in. No version:
/// nobody edits it.
///
/// # Errors
/// When the database cannot be used.
pub(super) async fn update_first_drop(tx: &mut SqliteConnection, id: ContainerId) -> Result<(), Error> {
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

/// Everything poured into and out of containers, for what stands here over time.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_poured(conn: &mut SqliteConnection) -> Result<Vec<Poured>, Error> {
    let rows = sqlx::query!(
        r#"SELECT id AS "id!: ContainerId", at AS "at!: Instant", volume_ul AS "volume_ul!: i64" FROM (
               SELECT to_container AS id, happened_at AS at, volume_ul FROM book_entry
               WHERE to_container IS NOT NULL AND volume_ul > 0
               UNION ALL
               SELECT from_container, happened_at, -volume_ul FROM book_entry
               WHERE from_container IS NOT NULL AND volume_ul > 0)"#
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
        list(conn).await?.into_iter().filter_map(|container| Some((container.id, container.moved_at?))).collect();
    Ok(StandingVolume::of(&list_poured(conn).await?, &moved))
}
