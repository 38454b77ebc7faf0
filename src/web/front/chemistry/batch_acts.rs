//! What is done with a batch: topped up, retired; measured, read, poured on as a container is.

use axum::{
    extract::{Path, State},
    response::Response,
};
use jiff::tz::TimeZone;

use crate::{
    domain::{
        baths::shortfall::Missing,
        book::Vessel,
        field_errors::FieldErrors,
        ids::{BatchId, ContainerId},
        instant::Instant,
        measure::volume,
    },
    store::book::movements::{self, Addition, Retiring},
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

use super::super::vessel_acts::{
    self, answer, handlers, log, occasion, path_of, read_missing, show_again, volume_of, with_although, zone,
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        change("/front/chemistry/batches/{id}/top-up", Access::Staff, top_up),
        change("/front/chemistry/batches/{id}/retire", Access::Staff, retire),
        change("/front/chemistry/batches/{id}/measure", Access::Staff, measure),
        change("/front/chemistry/batches/{id}/reading", Access::Staff, read_silver),
        change("/front/chemistry/batches/{id}/write-off", Access::Staff, write_off),
        change("/front/chemistry/batches/{id}/pour", Access::Staff, pour),
        change("/front/chemistry/batches/{id}/discharge", Access::Instructor, discharge),
    ]
}

handlers!(BatchId, Vessel::Batch: measure, read_silver, write_off, pour, discharge);

struct ToppingUp {
    measured_ul: i64,
    missing: Option<Missing>,
    addition: Addition,
    added_ul: i64,
    at: Instant,
    remark: String,
}

fn read_topping_up(posted: &Posted, zone: &TimeZone) -> Result<ToppingUp, FieldErrors> {
    let mut r = posted.reader();
    let (measured, missing) = (volume_of(&mut r, "measured", 0), read_missing(&mut r));
    let addition = r.choice("addition", |word| match word {
        "fresh" => Some(Addition::Fresh),
        "water" => Some(Addition::Water),
        _ => None,
    });
    let added = volume_of(&mut r, "added", 1);
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    r.finish((|| {
        Some(ToppingUp {
            measured_ul: measured?,
            missing: missing?,
            addition: addition?,
            added_ul: added?,
            at: at?,
            remark: remark?,
        })
    })())
}

async fn top_up(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<BatchId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Batch(id));
    let read = read_topping_up(&posted, &zone);
    let ToppingUp { measured_ul, missing, addition, added_ul, at, remark } = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "top-up", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, at, remark);
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::top_up(tx, &occasion, id, (measured_ul, missing), (addition, added_ul)).await?;
                let words = volume::in_words(added_ul);
                log(tx, occasion.recorded_at, occasion.actor, "batch topped up", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "top-up", &posted, written).await
}

fn read_retiring(posted: &Posted, batch: BatchId, zone: &TimeZone) -> Result<(Retiring, Instant, String), FieldErrors> {
    let mut r = posted.reader();
    let (measured, missing) = (volume_of(&mut r, "measured", 0), read_missing(&mut r));
    let into = if r.raw("into").is_empty() { Some(None) } else { r.id::<ContainerId>("into").map(Some) };
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    let although = r.text("although", 0..=400);
    r.finish((|| {
        let retiring = Retiring {
            batch,
            version: posted.version(),
            measured_ul: measured?,
            missing: missing?,
            into: into?,
            although: although?,
        };
        Some((retiring, at?, remark?))
    })())
}

async fn retire(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<BatchId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Batch(id));
    let read = read_retiring(&posted, id, &zone);
    let (retiring, at, remark) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "retire", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, at, with_although(remark, &retiring.although));
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::retire(tx, &occasion, &retiring).await?;
                let (words, now, actor) =
                    (volume::in_words(retiring.measured_ul), occasion.recorded_at, occasion.actor);
                if let Some(into) = retiring.into {
                    log(tx, now, actor, "poured into the container", Vessel::Container(into), &words).await?;
                }
                log(tx, now, actor, "batch retired", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "retire", &posted, written).await
}
