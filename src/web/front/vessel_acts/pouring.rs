//! Poured on: a part into a container, a discharge that somebody else allowed.

use axum::response::Response;
use jiff::tz::TimeZone;

use crate::{
    calc::working::figures,
    domain::{
        book::{MovementKind, Vessel},
        field_errors::FieldErrors,
        ids::ContainerId,
        instant::Instant,
        measure::volume,
        waste::discharge::Discharge,
    },
    store::{
        WriteError,
        book::movements::{self, Occasion},
    },
    web::{
        kit::{error::WebError, frame::Frame, state::AppState},
        request::posted::{Posted, sure_field},
    },
};

use super::{answer, log, occasion, path_of, show_again, volume_of, zone};

fn read_pouring(posted: &Posted, zone: &TimeZone) -> Result<(i64, ContainerId, Instant, String, String), FieldErrors> {
    let mut r = posted.reader();
    let (volume, into) = (volume_of(&mut r, "volume", 1), r.id::<ContainerId>("into"));
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    let although = r.text("although", 0..=400);
    r.finish((|| Some((volume?, into?, at?, remark?, although?)))())
}

/// A part is poured into a container.
pub(in crate::web::front) async fn pour(
    state: AppState,
    frame: Frame,
    vessel: Vessel,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let read = read_pouring(&posted, &zone);
    let (poured_ul, into, at, remark, although) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "pour", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, at, with_although(remark, &although));
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::pour(tx, &occasion, vessel, into, poured_ul, &although).await?;
                let (words, now, actor) = (volume::in_words(poured_ul), occasion.recorded_at, occasion.actor);
                log(tx, now, actor, "poured into the container", Vessel::Container(into), &words).await?;
                log(tx, now, actor, "part poured out", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "pour", &posted, written).await
}

/// The reason for going against an objection stands in the book.
pub(in crate::web::front) fn with_although(remark: String, although: &str) -> String {
    match (remark.is_empty(), although.is_empty()) {
        (_, true) => remark,
        (true, false) => format!("although it is not for this container: {although}"),
        (false, false) => format!("{remark}; although it is not for this container: {although}"),
    }
}

fn read_discharge(
    state: &AppState,
    posted: &Posted,
    zone: &TimeZone,
) -> Result<(i64, Discharge, Occasion), FieldErrors> {
    let mut r = posted.reader();
    let (volume, at) = (volume_of(&mut r, "volume", 1), r.local_time("happened_at", zone));
    if r.raw("authority").is_empty() {
        r.wrong("authority", "must name the authority that allowed it: without one it is not recorded");
    }
    let (authority, reference) = (r.text("authority", 0..=400), r.text("reference", 1..=200));
    let (reference_on, remark) = (r.date("reference_on"), r.text("remark", 0..=400));
    if reference_on.zip(at).is_some_and(|(on, at)| on > at.local(zone).date()) {
        r.wrong("reference_on", "must not lie after what it allowed");
    }
    let read = || {
        let happened = occasion(state, posted, at?, remark?);
        let discharge = Discharge {
            id: state.mint(),
            movement: happened.movement,
            authority: authority?.trim().to_owned(),
            reference: reference?,
            reference_on: Some(reference_on?),
        };
        Some((volume?, discharge, happened))
    };
    let read = read();
    r.finish(read)
}

/// At or above the site's limit it is asked back: the figure, and the box that says it is meant.
fn asked_back((high_ug, limit_ug): (i64, i64)) -> WriteError {
    let mg = |ug: i64| figures(ug as f64 / 1000.0, 3);
    let mut errors = FieldErrors::one(
        "volume",
        format!(
            "stands at or above the site’s limit for silver by its high figure: {} mg/L, and the limit is {} mg/L. Nothing \
             here allows it. If the authority did, for this, say so below",
            mg(high_ug),
            mg(limit_ug)
        ),
    );
    errors.add(sure_field("volume"), "tick this only if the paper named here allows that much silver");
    errors.into()
}

/// A discharge that somebody else allowed.
pub(in crate::web::front) async fn discharge(
    state: AppState,
    frame: Frame,
    vessel: Vessel,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let read = read_discharge(&state, &posted, &zone);
    let (let_go_ul, discharge, occasion) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "discharge", &posted, errors).await,
    };
    let is_sure = posted.ticked(&sure_field("volume"));
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let above = movements::at_or_above_limit(tx, vessel, occasion.happened_at).await?;
                if let Some(above) = above.filter(|_| !is_sure) {
                    return Err(asked_back(above));
                }
                movements::discharge(tx, &occasion, &discharge, vessel, let_go_ul).await?;
                let words = format!("{}, {}", volume::in_words(let_go_ul), MovementKind::Discharge.as_str());
                log(tx, occasion.recorded_at, occasion.actor, "discharge recorded", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "discharge", &posted, written).await
}
