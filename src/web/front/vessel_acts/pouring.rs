//! Poured on: a part into a container, a discharge that somebody else allowed.

use axum::response::Response;
use jiff::tz::TimeZone;

use crate::{
    domain::{
        book::{MovementKind, Vessel},
        field_errors::FieldErrors,
        ids::ContainerId,
        instant::Instant,
        volume,
    },
    store::movements,
    web::{error::WebError, frame::Frame, posted::Posted, state::AppState},
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

fn read_discharge(posted: &Posted, zone: &TimeZone) -> Result<(i64, Instant, String, String), FieldErrors> {
    let mut r = posted.reader();
    let (volume, at) = (volume_of(&mut r, "volume", 1), r.local_time("happened_at", zone));
    if r.raw("authority").is_empty() {
        r.wrong("authority", "must name the authority or permit that allowed it: without one it is not recorded");
    }
    let (authority, remark) = (r.text("authority", 0..=400), r.text("remark", 0..=400));
    r.finish((|| Some((volume?, at?, authority?, remark?)))())
}

/// A discharge that somebody else allowed.
pub(in crate::web::front) async fn discharge(
    state: AppState,
    frame: Frame,
    vessel: Vessel,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let read = read_discharge(&posted, &zone);
    let (let_go_ul, at, authority, remark) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "discharge", &posted, errors).await,
    };
    let (occasion, id) = (occasion(&state, &posted, at, remark), state.mint());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::discharge(tx, &occasion, id, vessel, let_go_ul, &authority).await?;
                let words = format!("{}, {}", volume::in_words(let_go_ul), MovementKind::Discharge.as_str());
                log(tx, occasion.recorded_at, occasion.actor, "discharge recorded", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "discharge", &posted, written).await
}
