//! What is done with a waste container: edited, full, moved, its silver recovered, taken away.

use axum::{
    extract::{Path, State},
    response::Response,
};
use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        book::Vessel,
        container::{Container, ContainerState, Contents},
        decimal,
        field_errors::FieldErrors,
        ids::ContainerId,
        instant::Instant,
        removal::Removal,
        volume,
    },
    store::{
        Stale, WriteError, containers,
        movements::{self, Occasion},
        removals,
    },
    web::{
        access::Access,
        error::WebError,
        frame::Frame,
        posted::Posted,
        routes::{Route, change},
        state::AppState,
    },
};

use super::{
    super::vessel_acts::{self, answer, log, occasion, path_of, show_again, volume_of, zone},
    day,
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        change("/front/waste/containers/{id}/edit", Access::Staff, edit),
        change("/front/waste/containers/{id}/full", Access::Staff, mark_full),
        change("/front/waste/containers/{id}/moved", Access::Staff, mark_moved),
        change("/front/waste/containers/{id}/measure", Access::Staff, measure),
        change("/front/waste/containers/{id}/reading", Access::Staff, read_silver),
        change("/front/waste/containers/{id}/write-off", Access::Staff, write_off),
        change("/front/waste/containers/{id}/pour", Access::Staff, pour),
        change("/front/waste/containers/{id}/discharge", Access::Staff, discharge),
        change("/front/waste/containers/{id}/recover", Access::Staff, recover),
        change("/front/waste/containers/{id}/remove", Access::Staff, remove),
        change("/front/waste/containers/{id}/copy-returned", Access::Staff, copy_returned),
    ]
}

/// Loads a container of a version and stores it changed; stale when somebody else was first.
async fn change_of(
    tx: &mut SqliteConnection,
    (id, version): (ContainerId, i64),
    to: impl FnOnce(Container) -> Result<Container, WriteError>,
) -> Result<(), WriteError> {
    let stored = containers::find(tx, id).await?.ok_or(WriteError::Missing("this container"))?;
    if stored.is_removed() {
        return Err(FieldErrors::whole("it was removed: nothing about it changes any more").into());
    }
    let sent = Container { version, ..to(stored.clone())? };
    if !containers::update(tx, &sent).await? {
        let path = path_of(Vessel::Container(id));
        return Err(WriteError::Stale(Stale::between(stored.name(), path, described(&sent), described(&stored))));
    }
    Ok(())
}

fn described(container: &Container) -> Vec<(&'static str, String)> {
    vec![
        ("State", container.state.as_str().to_owned()),
        ("For", container.contents.in_words().to_owned()),
        ("Hazards", container.hazards.clone()),
        ("Place", container.place.clone()),
        ("Takes", volume::in_words(container.capacity_ul)),
        ("Moved", if container.moved_at.is_some() { "yes" } else { "no" }.to_owned()),
    ]
}

async fn edit(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let vessel = Vessel::Container(id);
    let mut r = posted.reader();
    let (hazards, place) = (r.lines("hazards", 0..=600), r.text("place", 0..=200));
    let capacity = volume_of(&mut r, "capacity", 100_000);
    // asked for only while nothing is in it
    let contents =
        if r.raw("contents").is_empty() { Some(None) } else { r.choice("contents", Contents::from_word).map(Some) };
    let read = r.finish((|| Some((hazards?, place?, capacity?, contents?)))());
    let (hazards, place, capacity_ul, contents) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "edit", &posted, errors).await,
    };
    let (version, now, actor) = (posted.version(), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let changed = move |stored: Container| {
                    let contents = match (contents, stored.first_drop_at) {
                        (Some(contents), Some(_)) if contents != stored.contents => {
                            let words = "stays as it is: something is in it already";
                            return Err(FieldErrors::one("contents", words).into());
                        }
                        (contents, _) => contents.unwrap_or(stored.contents),
                    };
                    Ok(Container { contents, hazards, place, capacity_ul, ..stored })
                };
                change_of(tx, (id, version), changed).await?;
                log(tx, now, actor, "container edited", vessel, "").await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "edit", &posted, written).await
}

/// Full, or by mistake not.
async fn mark_full(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    mark(state, frame, (id, "full"), posted, |stored, at| Container {
        state: if at.is_some() { ContainerState::Full } else { ContainerState::Filling },
        full_at: at,
        ..stored
    })
    .await
}

/// Moved to where containers are collected, or by mistake not.
async fn mark_moved(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    mark(state, frame, (id, "moved"), posted, |stored, at| Container { moved_at: at, ..stored }).await
}

async fn mark(
    state: AppState,
    frame: Frame,
    (id, act): (ContainerId, &'static str),
    posted: Posted,
    set: fn(Container, Option<Instant>) -> Container,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let back = posted.ticked("not");
    let mut r = posted.reader();
    let at = if back { Some(None) } else { r.local_time("happened_at", &zone).map(Some) };
    if at.flatten().is_some_and(|at| at > posted.at()) {
        r.wrong("happened_at", "must not lie in the future");
    }
    let at = match r.finish(at) {
        Ok(at) => at,
        Err(errors) => return show_again(&state, frame, vessel, act, &posted, errors).await,
    };
    let (version, now, actor) = (posted.version(), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let set = move |stored: Container| {
                    if let (Some(at), Some(first)) = (at, stored.first_drop_at)
                        && at.plus_minutes(1) < first
                    {
                        let words = "must not lie before the first drop";
                        return Err(FieldErrors::one("happened_at", words).into());
                    }
                    Ok(set(stored, at))
                };
                change_of(tx, (id, version), set).await?;
                let what = match (act, at.is_some()) {
                    ("full", true) => "container full",
                    ("full", false) => "container not full after all",
                    (_, true) => "container moved",
                    (_, false) => "container not moved after all",
                };
                log(tx, now, actor, what, vessel, "").await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, act, &posted, written).await
}

fn read_recovery(posted: &Posted, zone: &TimeZone) -> Result<(i64, Instant, String), FieldErrors> {
    let mut r = posted.reader();
    let silver = r.decimal("silver", 6, 1..=1_000_000_000);
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    r.finish((|| Some((silver?, at?, remark?)))())
}

async fn recover(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let read = read_recovery(&posted, &zone);
    let (silver_ug, at, remark) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "recover", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, at, remark);
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::recover(tx, &occasion, id, silver_ug).await?;
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
    let vessel = Vessel::Container(id);
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

async fn measure(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    vessel_acts::measure(state, frame, Vessel::Container(id), posted).await
}

async fn read_silver(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    vessel_acts::read_silver(state, frame, Vessel::Container(id), posted).await
}

async fn write_off(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    vessel_acts::write_off(state, frame, Vessel::Container(id), posted).await
}

async fn pour(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    vessel_acts::pour(state, frame, Vessel::Container(id), posted).await
}

async fn discharge(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    vessel_acts::discharge(state, frame, Vessel::Container(id), posted).await
}
