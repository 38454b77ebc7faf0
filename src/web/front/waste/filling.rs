//! What goes into a waste container besides baths: the first rinse, and scrap film and paper.

use axum::{
    extract::{Path, State},
    response::Response,
};
use jiff::tz::TimeZone;

use crate::{
    domain::{
        book::{Silver, Vessel},
        field_errors::FieldErrors,
        ids::{ContainerId, PaperId},
        instant::Instant,
        measure::volume,
        stock::sheet::Sheet,
        waste::scrap::Scrap,
    },
    store::book::movements::{self, Occasion},
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
    answer, log, occasion, path_of, show_again, stated_range, volume_of, with_although, zone,
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        change("/front/waste/containers/{id}/rinse", Access::Staff, collect_rinse),
        change("/front/waste/containers/{id}/scrap", Access::Staff, throw_scrap),
    ]
}

struct Rinse {
    volume_ul: i64,
    /// What somebody knows of its silver.
    silver: Option<Silver>,
    at: Instant,
    although: String,
    remark: String,
}

fn read_rinse(posted: &Posted, zone: &TimeZone) -> Result<Rinse, FieldErrors> {
    let mut r = posted.reader();
    let volume = volume_of(&mut r, "volume", 1);
    let stated = ["silver", "low", "high"].iter().any(|field| !r.raw(field).is_empty());
    let silver = if stated { stated_range(&mut r, 1_000_000_000).map(Some) } else { Some(None) };
    let (at, although) = (r.local_time("happened_at", zone), r.text("although", 0..=400));
    let remark = r.text("remark", 0..=400);
    r.finish((|| Some(Rinse { volume_ul: volume?, silver: silver?, at: at?, although: although?, remark: remark? }))())
}

async fn collect_rinse(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let read = read_rinse(&posted, &zone);
    let rinse = match read {
        Ok(rinse) => rinse,
        Err(errors) => return show_again(&state, frame, vessel, "rinse", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, rinse.at, with_although(rinse.remark, &rinse.although));
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::collect_rinse(tx, &occasion, id, rinse.volume_ul, rinse.silver, &rinse.although).await?;
                let words = volume::in_words(rinse.volume_ul);
                log(tx, occasion.recorded_at, occasion.actor, "first rinse collected", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "rinse", &posted, written).await
}

fn read_scrap(
    state: &AppState,
    id: ContainerId,
    posted: &Posted,
    zone: &TimeZone,
) -> Result<(Scrap, Occasion, String), FieldErrors> {
    let mut r = posted.reader();
    let paper = r.id::<PaperId>("paper");
    let processed = r.choice("processed", |word| match word {
        "no" => Some(false),
        "yes" => Some(true),
        _ => None,
    });
    let sheets = r.whole("sheets", 1..=10_000);
    let size = Sheet::parse(r.raw("size")).map_err(|error| r.wrong("size", error.to_string())).ok();
    let mass_g = r.optional_decimal("mass", 3, 1..=1_000_000);
    let (at, although) = (r.local_time("happened_at", zone), r.text("although", 0..=400));
    let remark = r.text("remark", 0..=400);
    let read = || {
        let (sheets, although) = (sheets?, although?);
        let happened = occasion(state, posted, at?, with_although(remark?, &although));
        let scrap = Scrap {
            id: state.mint(),
            movement: happened.movement,
            container: id,
            paper: paper?,
            processed: processed?,
            sheets,
            area_mm2: size?.area_mm2() * sheets,
            mass_g: mass_g?,
        };
        Some((scrap, happened, although))
    };
    let read = read();
    r.finish(read)
}

async fn throw_scrap(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let read = read_scrap(&state, id, &posted, &zone);
    let (scrap, occasion, although) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "scrap", &posted, errors).await,
    };
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::throw_scrap(tx, &occasion, &scrap, &although).await?;
                let words = format!("{} sheets", scrap.sheets);
                log(tx, occasion.recorded_at, occasion.actor, "scrap thrown in", vessel, &words).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "scrap", &posted, written).await
}
