//! What leaves a waste container: silver recovered on site, the whole of it with a carrier, and the
//! signed copy that comes back.

use axum::{
    extract::{Path, State},
    response::Response,
};
use jiff::tz::TimeZone;

use crate::{
    domain::{
        book::Vessel,
        field_errors::FieldErrors,
        ids::ContainerId,
        measure::decimal,
        waste::{
            recovery::{MEANS, Recovery},
            removal::Removal,
        },
    },
    store::{
        Stale, WriteError,
        book::movements::{self, Occasion},
        waste::removals,
    },
    web::{
        kit::{
            access::Access,
            error::WebError,
            frame::Frame,
            routes::{Route, change},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::{
    super::vessel_acts::{answer, log, occasion, path_of, show_again, volume_of, zone},
    day,
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        change("/front/waste/containers/{id}/recover", Access::Staff, recover),
        change("/front/waste/containers/{id}/remove", Access::Staff, remove),
        change("/front/waste/containers/{id}/copy-returned", Access::Staff, copy_returned),
    ]
}

fn read_recovery(
    state: &AppState,
    id: ContainerId,
    posted: &Posted,
    zone: &TimeZone,
) -> Result<(i64, Recovery, Occasion), FieldErrors> {
    let mut r = posted.reader();
    let silver = r.decimal("silver", 6, 1..=1_000_000_000);
    let means = r.choice("means", |word| MEANS.into_iter().find(|means| *means == word));
    let mut per_litre = |field| r.optional_decimal(field, 6, 0..=100_000_000);
    let (before, after) = (per_litre("before"), per_litre("after"));
    let treated = if r.raw("treated").is_empty() { Some(None) } else { volume_of(&mut r, "treated", 1).map(Some) };
    let (measured_how, cartridge) = (r.text("measured_how", 0..=200), r.text("cartridge", 0..=120));
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    let read = || {
        let happened = occasion(state, posted, at?, remark?);
        let recovery = Recovery {
            id: state.mint(),
            movement: happened.movement,
            container: id,
            treated_ul: treated?,
            means: means?.to_owned(),
            before_ug_per_l: before?,
            after_ug_per_l: after?,
            measured_how: measured_how?,
            cartridge: cartridge?,
        };
        Some((silver?, recovery, happened))
    };
    let read = read();
    r.finish(read)
}

async fn recover(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let read = read_recovery(&state, id, &posted, &zone);
    let (silver_ug, recovery, occasion) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "recover", &posted, errors).await,
    };
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::recover(tx, &occasion, &recovery, silver_ug).await?;
                let words = format!("{} g", decimal::written(silver_ug, 6));
                log(tx, occasion.recorded_at, occasion.actor, "silver recovered", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "recover", &posted, written).await
}

fn read_removal(
    state: &AppState,
    id: ContainerId,
    posted: &Posted,
    zone: &TimeZone,
) -> Result<(Removal, Occasion), FieldErrors> {
    let mut r = posted.reader();
    let (carrier, destination) = (r.text("carrier", 1..=200), r.text("destination", 1..=200));
    let reference = r.text("reference", 1..=200);
    let mass_g = r.optional_decimal("mass", 3, 1..=10_000_000);
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    let removal = || {
        let happened: Occasion = occasion(state, posted, at?, remark?);
        Some((
            Removal {
                id: state.mint(),
                movement: happened.movement,
                container: id,
                carrier: carrier?,
                destination: destination?,
                reference: reference?,
                mass_g: mass_g?,
                removed_at: happened.happened_at,
                to_reclaim_silver: posted.ticked("to_reclaim_silver"),
                copy_returned_on: None,
                undone_at: None,
                version: 1,
            },
            happened,
        ))
    };
    let removal = removal();
    r.finish(removal)
}

async fn remove(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let read = read_removal(&state, id, &posted, &zone);
    let (removal, occasion) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "remove", &posted, errors).await,
    };
    let version = posted.version();
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::remove(tx, &occasion, version, &removal).await?;
                log(tx, occasion.recorded_at, occasion.actor, "container removed", vessel, &removal.reference).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "remove", &posted, written).await
}

async fn copy_returned(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let mut r = posted.reader();
    let on = r.date("on");
    let on = match r.finish(on) {
        Ok(on) => on,
        Err(errors) => return show_again(&state, frame, vessel, "copy-returned", &posted, errors).await,
    };
    let (version, now, actor) = (posted.version(), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let removal = removals::find_of(tx, id).await?.ok_or(WriteError::Missing("this removal"))?;
                let (left, today) = (removal.removed_at.local(&zone).date(), now.local(&zone).date());
                if on < left || on > today {
                    let words = format!("must lie between the removal ({}) and today ({})", day(left), day(today));
                    return Err(FieldErrors::one("on", words).into());
                }
                if !removals::update_copy_returned(tx, removal.id, version, on).await? {
                    let stored = removal.copy_returned_on.map_or_else(|| "not yet".to_owned(), day);
                    let fields = |value: String| vec![("Signed copy came back", value)];
                    let stale = Stale::between("the removal", path_of(vessel), fields(day(on)), fields(stored));
                    return Err(WriteError::Stale(stale));
                }
                log(tx, now, actor, "signed copy came back", vessel, &on.to_string()).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "copy-returned", &posted, written).await
}
