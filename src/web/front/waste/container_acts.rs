//! What is done with a waste container while it is here: edited, full, moved, put away; measured, read,
//! poured.

use axum::{
    extract::{Path, State},
    response::Response,
};
use sqlx::SqliteConnection;

use crate::{
    domain::{
        book::Vessel,
        field_errors::FieldErrors,
        ids::ContainerId,
        instant::Instant,
        measure::volume,
        site::site_rule::RuleClock,
        waste::container::{Container, Contents, Marks},
    },
    store::{
        Stale, WriteError,
        book::movements,
        waste::{
            container_clocks::{self, ClockMark},
            containers,
        },
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

use super::super::vessel_acts::{self, answer, handlers, log, occasion, path_of, show_again, zone};
use super::set_up::read_hazards;

pub(super) fn routes() -> Vec<Route> {
    vec![
        change("/front/waste/containers/{id}/edit", Access::Staff, edit),
        change("/front/waste/containers/{id}/put-away", Access::Staff, put_away),
        change("/front/waste/containers/{id}/take-out", Access::Staff, take_out),
        change("/front/waste/containers/{id}/full", Access::Staff, mark_full),
        change("/front/waste/containers/{id}/moved", Access::Staff, mark_moved),
        change("/front/waste/containers/{id}/measure", Access::Staff, measure),
        change("/front/waste/containers/{id}/reading", Access::Staff, read_silver),
        change("/front/waste/containers/{id}/write-off", Access::Staff, write_off),
        change("/front/waste/containers/{id}/pour", Access::Staff, pour),
        change("/front/waste/containers/{id}/discharge", Access::Instructor, discharge),
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
        ("State", container.state().as_str().to_owned()),
        ("For", container.contents.in_words().to_owned()),
        ("Hazards", container.hazards.clone()),
        ("Place", container.place.clone()),
        ("Takes", volume::in_words(container.capacity_ul)),
        ("Moved", if container.moved_at().is_some() { "yes" } else { "no" }.to_owned()),
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
    let (hazards, place) = (read_hazards(&mut r), r.text("place", 0..=200));
    let stored = containers::find(&mut *state.store.read().await?, id).await?.map(|stored| stored.capacity_ul);
    let capacity = r.volume("capacity", stored, 100_000..=volume::MOST_UL);
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
    mark(state, frame, (id, "full", RuleClock::Full), posted, |marks, at| Marks { full_at: at, ..marks }).await
}

/// Moved to where containers are collected, or by mistake not.
async fn mark_moved(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    mark(state, frame, (id, "moved", RuleClock::Moved), posted, |marks, at| Marks { moved_at: at, ..marks }).await
}

/// Sets a clock or takes it back: what holds now on the container, and beside it a mark that stays.
async fn mark(
    state: AppState,
    frame: Frame,
    (id, act, clock): (ContainerId, &'static str, RuleClock),
    posted: Posted,
    set: fn(Marks, Option<Instant>) -> Marks,
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
    let (version, now, actor, new) = (posted.version(), posted.at(), posted.actor(), state.mint());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let recorded_by = actor.person().ok_or(WriteError::Forbidden("a mark names who made it"))?;
                let set = move |stored: Container| {
                    if let (Some(at), Some(first)) = (at, stored.first_drop_at)
                        && at.plus_minutes(1) < first
                    {
                        let words = "must not lie before the first drop";
                        return Err(FieldErrors::one("happened_at", words).into());
                    }
                    let life = stored.life.marked(|marks| set(marks, at));
                    let life = life.map_err(|_| FieldErrors::whole("it was put away: take it out again first"))?;
                    Ok(Container { life, ..stored })
                };
                change_of(tx, (id, version), set).await?;
                let mark = ClockMark { clock, began_at: at, recorded_by, recorded_at: now };
                container_clocks::insert(tx, new, id, &mark).await?;
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

/// Set up by mistake: put away, empty.
async fn put_away(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (vessel, version) = (Vessel::Container(id), posted.version());
    let occasion = occasion(&state, &posted, posted.at(), String::new());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::put_away(tx, &occasion, (id, version)).await?;
                log(tx, occasion.recorded_at, occasion.actor, "container put away", vessel, "").await?;
                Ok("/front/waste".to_owned())
            })
        })
        .await;
    answer(&state, frame, vessel, "put-away", &posted, written).await
}

async fn take_out(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (vessel, at, actor) = (Vessel::Container(id), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::take_out_again(tx, id).await?;
                log(tx, at, actor, "container taken out again", vessel, "").await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "take-out", &posted, written).await
}

handlers!(ContainerId, Vessel::Container: measure, read_silver, write_off, pour, discharge);
