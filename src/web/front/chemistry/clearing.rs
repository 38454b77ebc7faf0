//! Clearing tests of a fixer: recorded, and taken back when one was a mistake.

use axum::{
    extract::{Path, State},
    response::Response,
};
use jiff::tz::TimeZone;

use crate::{
    domain::{
        baths::clearing::{ClearingTest, ClearingTimes},
        book::Vessel,
        field_errors::FieldErrors,
        ids::{BatchId, ClearingTestId},
        instant::Instant,
        stock::product::ProductKind,
    },
    store::{
        WriteError,
        baths::{batches, clearing_tests},
    },
    web::{
        kit::{
            access::Access,
            error::WebError,
            frame::Frame,
            page::see_other,
            routes::{Route, change},
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::super::vessel_acts::{answer, log, path_of, show_again, zone};

pub(super) fn routes() -> Vec<Route> {
    vec![
        change("/front/chemistry/batches/{id}/clearing", Access::Staff, record),
        change("/front/chemistry/batches/{id}/clearing/{test}/take-back", Access::Staff, take_back),
    ]
}

fn read(posted: &Posted, zone: &TimeZone) -> Result<(ClearingTimes, Instant, String), FieldErrors> {
    let mut r = posted.reader();
    let (fresh, now) = (r.decimal("fresh", 3, 1_000..=3_600_000), r.decimal("now", 3, 1_000..=3_600_000));
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    if at.is_some_and(|at| at > posted.at()) {
        r.wrong("happened_at", "must not lie in the future");
    }
    r.finish((|| Some((ClearingTimes { fresh_ms: fresh?, now_ms: now? }, at?, remark?)))())
}

async fn record(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<BatchId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Batch(id));
    let (times, tested_at, remark) = match read(&posted, &zone) {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "clearing", &posted, errors).await,
    };
    let (test, at, actor) = (state.mint(), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let batch = batches::find(tx, id).await?.ok_or(WriteError::Missing("this batch"))?;
                if batch.kind != ProductKind::Fixer || !batch.in_use() {
                    return Err(FieldErrors::whole("a clearing test is of a fixer in use").into());
                }
                if tested_at.plus_minutes(1) < batch.mixed_at {
                    return Err(FieldErrors::one("happened_at", "must not lie before it was mixed").into());
                }
                let recorded_by = actor.person().ok_or(WriteError::Forbidden("a test names who made it"))?;
                let test = ClearingTest { id: test, batch: id, times, tested_at, remark, undone_at: None, recorded_by };
                clearing_tests::insert(tx, &test, at).await?;
                log(tx, at, actor, "clearing test recorded", vessel, &times.judged().1).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "clearing", &posted, written).await
}

async fn take_back(
    State(state): State<AppState>,
    Path((id, test)): Path<(BatchId, ClearingTestId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor, vessel) = (posted.at(), posted.actor(), Vessel::Batch(id));
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                if !clearing_tests::update_undone(tx, (id, test), at).await? {
                    return Err(WriteError::Missing("this test"));
                }
                log(tx, at, actor, "clearing test taken back", vessel, "").await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
