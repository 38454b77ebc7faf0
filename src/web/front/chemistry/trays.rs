//! Batches set into trays and taken out: from the overview and from a batch's own page.

use axum::{
    extract::{Path, State},
    response::Response,
};

use crate::{
    domain::{
        baths::batch::{Batch, Slot, Stay},
        book::Vessel,
        field_errors::FieldErrors,
        ids::{BatchId, TrayLineId},
        instant::Instant,
        site::Site,
    },
    store::{WriteError, baths::tray_lines::TrayLine, book::movements},
    web::{
        kit::{
            access::Access,
            error::WebError,
            form::Form,
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
        change("/front/chemistry/trays", Access::Staff, set_in),
        change("/front/chemistry/batches/{id}/set-in", Access::Staff, set_this_in),
        change("/front/chemistry/batches/{id}/take-out", Access::Staff, take_out),
    ]
}

/// The form as it begins.
pub(super) fn begun(frame: &Frame, site: &Site, now: Instant) -> Form {
    Form::filled(frame, 0, [("happened_at", now.as_local_control(&site.zone))])
}

/// Where a batch stands, in words.
pub(super) fn place_in_words(stay: &Stay, lines: &[TrayLine]) -> String {
    let line = lines.iter().find(|line| line.id == stay.tray_line);
    format!("{}: {}", line.map_or("a line put away", |line| line.name.as_str()), stay.slot.as_str())
}

/// Every batch with each tray that takes it: `(value, words)`. Of the trays that a form could offer, only the
/// right ones, so that no fixer is set where the developer stands.
pub(super) fn batches_and_places(
    batches: &[(&Batch, String)],
    stays: &[Stay],
    lines: &[TrayLine],
) -> Vec<(String, String)> {
    let of_batch = |(batch, name): &(&Batch, String)| {
        let stands = |line: &TrayLine, slot| {
            stays.iter().any(|stay| (stay.batch, stay.tray_line, stay.slot) == (batch.id, line.id, slot))
        };
        let places = lines.iter().flat_map(|line| Slot::ALL.map(|slot| (line, slot)));
        places
            .filter(|(line, slot)| slot.takes() == batch.kind && !stands(line, *slot))
            .map(|(line, slot)| {
                let value = format!("{} {} {}", batch.id, line.id, slot.as_str());
                (value, format!("{name} into {}: {}", line.name, slot.as_str()))
            })
            .collect::<Vec<_>>()
    };
    batches.iter().flat_map(of_batch).collect()
}

fn read_batch_and_place(text: &str) -> Option<(BatchId, (TrayLineId, Slot))> {
    let (batch, place) = text.split_once(' ')?;
    Some((batch.parse().ok()?, read_place(place)?))
}

fn read_place(text: &str) -> Option<(TrayLineId, Slot)> {
    let (line, slot) = text.split_once(' ')?;
    Some((line.parse().ok()?, Slot::from_word(slot)?))
}

/// What a form that sets in says: the place and the moment.
fn read(posted: &Posted, zone: &jiff::tz::TimeZone) -> Result<((TrayLineId, Slot), Instant), FieldErrors> {
    let mut r = posted.reader();
    let (place, at) = (r.choice("place", read_place), r.local_time("happened_at", zone));
    r.finish((|| Some((place?, at?)))())
}

async fn write(
    state: &AppState,
    posted: &Posted,
    batch: BatchId,
    (place, at): ((TrayLineId, Slot), Instant),
    landing: String,
) -> Result<String, WriteError> {
    let (id, now, actor) = (state.mint(), posted.at(), posted.actor());
    state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::set_in(tx, id, place, batch, at, now).await?;
                log(tx, now, actor, "batch set into its tray", Vessel::Batch(batch), place.1.as_str()).await?;
                Ok(landing)
            })
        })
        .await
}

async fn set_in(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let mut r = posted.reader();
    let (chosen, at) = (r.choice("place", read_batch_and_place), r.local_time("happened_at", &zone));
    let (batch, place, at) = match r.finish((|| Some((chosen?, at?)))()) {
        Ok(((batch, place), at)) => (batch, place, at),
        Err(errors) => {
            return super::show_with(&state, frame, Some(("set-in", Form::refused(&posted, errors)))).await;
        }
    };
    match write(&state, &posted, batch, (place, at), "/front/chemistry".to_owned()).await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            super::show_with(&state, frame, Some(("set-in", Form::refused(&posted, errors)))).await
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn set_this_in(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<BatchId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Batch(id));
    let place = match read(&posted, &zone) {
        Ok(place) => place,
        Err(errors) => return show_again(&state, frame, vessel, "set-in", &posted, errors).await,
    };
    let written = write(&state, &posted, id, place, path_of(vessel)).await;
    answer(&state, frame, vessel, "set-in", &posted, written).await
}

async fn take_out(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<BatchId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Batch(id));
    let mut r = posted.reader();
    let at = r.local_time("happened_at", &zone);
    let at = match r.finish(at) {
        Ok(at) => at,
        Err(errors) => return show_again(&state, frame, vessel, "take-out", &posted, errors).await,
    };
    let (now, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::take_out(tx, id, at, now).await?;
                log(tx, now, actor, "batch taken out of its tray", vessel, "").await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "take-out", &posted, written).await
}
