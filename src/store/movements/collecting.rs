//! What goes into containers besides baths: the first rinse, and film and paper.

use sqlx::SqliteConnection;

use crate::domain::{
    book::{MovementKind, Silver, Vessel, moves},
    container::{Container, ContainerState, Contents},
    field_errors::FieldErrors,
    ids::ContainerId,
    scrap::{Scrap, silver_in},
};

use super::{Occasion, begin};
use crate::store::{WriteError, book, containers, papers, scraps};

/// The first rinse after the fixer was collected: water, with the silver that sheets carried into the
/// wash. Without a figure it is all that the wash still has, as an estimate.
///
/// # Errors
/// Refused when the container is for something else (unless `although` says why), full, gone, or
/// when that is more silver than the wash has.
pub async fn collect_rinse(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    into: ContainerId,
    volume_ul: i64,
    silver: Option<Silver>,
    although: &str,
) -> Result<(), WriteError> {
    let container = open(tx, into).await?;
    if !matches!(container.contents, Contents::FirstRinse | Contents::Mixed | Contents::SpentFixer)
        && although.trim().is_empty()
    {
        return Err(not_for_this(&container, "the first rinse holds fixer and silver"));
    }
    let vessel = Vessel::Container(into);
    let movement = begin(tx, occasion, vessel, MovementKind::Rinse).await?;
    let carried = book::wash_silver(tx).await?;
    let silver = silver.unwrap_or(carried);
    if (carried - silver).map(|ug| ug.min(0)) != Silver::NONE {
        let words = format!(
            "is more than sheets carried into the wash by the book ({}): leave it empty, and read the container \
             afterwards",
            crate::domain::book::written::grams(carried)
        );
        return Err(FieldErrors::one("silver", words).into());
    }
    book::append(tx, &movement, &moves::rinsed(vessel, volume_ul, silver)).await?;
    Ok(())
}

/// Film and paper were thrown into a container. `scrap.movement` is the occasion's.
///
/// # Errors
/// Refused when the container is for liquids (unless `although` says why), full or gone.
pub async fn throw_scrap(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    scrap: &Scrap,
    although: &str,
) -> Result<(), WriteError> {
    let container = open(tx, scrap.container).await?;
    if container.contents != Contents::Scrap && although.trim().is_empty() {
        return Err(not_for_this(&container, "scrap film and paper go into a container of their own"));
    }
    let paper = papers::find(tx, scrap.paper).await?.ok_or(WriteError::Missing("paper"))?;
    let vessel = Vessel::Container(scrap.container);
    let movement = begin(tx, occasion, vessel, MovementKind::Scrap).await?;
    let silver = silver_in(&paper, scrap.processed, scrap.area_mm2);
    book::append(tx, &movement, &[moves::scrapped(vessel, silver)]).await?;
    scraps::insert(tx, scrap).await?;
    Ok(())
}

async fn open(tx: &mut SqliteConnection, id: ContainerId) -> Result<Container, WriteError> {
    let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("waste container"))?;
    let refused = |words: String| Err(WriteError::from(FieldErrors::whole(words)));
    match container.state {
        ContainerState::Full => refused(format!("{} is full: choose another", container.name())),
        ContainerState::Removed { .. } => refused(format!("{} was removed", container.name())),
        ContainerState::Filling if container.put_away_at.is_some() => {
            refused(format!("{} was put away: take it out again first", container.name()))
        }
        ContainerState::Filling => Ok(container),
    }
}

fn not_for_this(container: &Container, words: &str) -> WriteError {
    FieldErrors::one(
        "although",
        format!(
            "{} is for {}: {words}. If it has to go there, say why here",
            container.name(),
            container.contents.as_str()
        ),
    )
    .into()
}
