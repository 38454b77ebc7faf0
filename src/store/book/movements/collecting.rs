//! What goes into containers besides baths: the first rinse, and film and paper.

use sqlx::SqliteConnection;

use crate::domain::{
    book::{MovementKind, Silver, Vessel, moves},
    field_errors::FieldErrors,
    ids::ContainerId,
    waste::{
        held::Held,
        scrap::{Scrap, silver_in},
    },
};

use super::{Occasion, begin, pouring::refuse_objection};
use crate::store::{WriteError, book, stock::papers, waste::scraps};

/// The first rinse after the fixer was collected: water, with the silver that sheets carried into the
/// wash. Without a figure it is all that the wash had then and still has, as an estimate.
///
/// # Errors
/// Refused when the rinse may not meet what the container holds or its label says something else
/// (unless `although` says why); when it is full, moved or gone; or when that is more silver than the
/// wash has.
pub async fn collect_rinse(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    into: ContainerId,
    volume_ul: i64,
    silver: Option<Silver>,
    although: &str,
) -> Result<(), WriteError> {
    refuse_objection(tx, occasion, &[Held::Rinse], (into, "although"), although).await?;
    let vessel = Vessel::Container(into);
    let movement = begin(tx, occasion, vessel, MovementKind::Rinse).await?;
    let carried = book::wash_silver_at(tx, occasion.happened_at).await?;
    let silver = silver.unwrap_or(carried);
    if (carried - silver).map(|ug| ug.min(0)) != Silver::NONE {
        let words = format!(
            "is more than sheets had carried into the wash until then by the book ({}): leave it empty, and read the \
             container afterwards",
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
/// Refused when the container is for liquids (unless `although` says why), full, moved or gone.
pub async fn throw_scrap(
    tx: &mut SqliteConnection,
    occasion: &Occasion,
    scrap: &Scrap,
    although: &str,
) -> Result<(), WriteError> {
    refuse_objection(tx, occasion, &[Held::Scrap], (scrap.container, "although"), although).await?;
    let paper = papers::find(tx, scrap.paper).await?.ok_or(WriteError::Missing("paper"))?;
    let vessel = Vessel::Container(scrap.container);
    let movement = begin(tx, occasion, vessel, MovementKind::Scrap).await?;
    let silver = silver_in(&paper, scrap.processed, scrap.area_mm2);
    book::append(tx, &movement, &[moves::scrapped(vessel, silver)]).await?;
    scraps::insert(tx, scrap).await?;
    Ok(())
}
