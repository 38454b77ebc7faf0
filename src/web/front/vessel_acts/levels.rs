//! How much there is: measured, read, written off.

use axum::response::Response;
use jiff::tz::TimeZone;

use crate::{
    calc::working::figures,
    domain::{
        baths::shortfall::Missing,
        book::{Silver, Vessel},
        field_errors::FieldErrors,
        instant::Instant,
        measure::volume,
        waste::reading::Method,
    },
    store::book::movements::{self, Loss},
    web::{
        kit::{error::WebError, frame::Frame, state::AppState},
        request::posted::{Posted, Reader},
    },
};

use super::{answer, log, occasion, path_of, show_again, volume_of, zone};

/// The volume was measured.
pub(in crate::web::front) async fn measure(
    state: AppState,
    frame: Frame,
    vessel: Vessel,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let mut r = posted.reader();
    let (measured, missing) = (volume_of(&mut r, "measured", 0), read_missing(&mut r));
    let (at, remark) = (r.local_time("happened_at", &zone), r.text("remark", 0..=400));
    let (measured, missing, at, remark) = match r.finish((|| Some((measured?, missing?, at?, remark?)))()) {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "measure", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, at, remark);
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::measure(tx, &occasion, vessel, measured, missing).await?;
                let (now, actor) = (occasion.recorded_at, occasion.actor);
                log(tx, now, actor, "volume measured", vessel, &volume::in_words(measured)).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "measure", &posted, written).await
}

fn read_reading(posted: &Posted, zone: &TimeZone) -> Result<(Method, Silver, Instant, String), FieldErrors> {
    let mut r = posted.reader();
    let method = r.choice("method", Method::from_word);
    let silver = reading(&mut r, method);
    let (at, remark) = (r.local_time("happened_at", zone), r.text("remark", 0..=400));
    r.finish((|| Some((method?, silver?, at?, remark?)))())
}

/// The silver was read.
pub(in crate::web::front) async fn read_silver(
    state: AppState,
    frame: Frame,
    vessel: Vessel,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let read = read_reading(&posted, &zone);
    let (method, silver, at, remark) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "reading", &posted, errors).await,
    };
    let (occasion, id) = (occasion(&state, &posted, at, remark), state.mint());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::read_silver(tx, &occasion, id, vessel, method, silver).await?;
                let detail = format!("{}, {} g/L", method.as_str(), figures(silver.best_ug as f64 / 1e6, 3));
                log(tx, occasion.recorded_at, occasion.actor, "silver read", vessel, &detail).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "reading", &posted, written).await
}

/// Where what is missing went: `Some(None)` when nobody says.
pub(in crate::web::front) fn read_missing(r: &mut Reader<'_>) -> Option<Option<Missing>> {
    if r.raw("missing").is_empty() { Some(None) } else { r.choice("missing", Missing::from_word).map(Some) }
}

/// What was read, in grams a litre. A strip of estimating paper is no finer than its colour fields:
/// the fields below and above are asked for. A laboratory's figure may stand alone.
fn reading(r: &mut Reader<'_>, method: Option<Method>) -> Option<Silver> {
    let most = 100_000_000;
    let typed = !(r.raw("low").is_empty() && r.raw("high").is_empty());
    if method == Some(Method::Laboratory) && !typed {
        return r.decimal("silver", 6, 0..=most).map(Silver::exactly);
    }
    let silver = super::stated_range(r, most)?;
    if method == Some(Method::EstimatingPaper) && silver.low_ug == silver.high_ug {
        r.wrong("high", "a strip shows no more than between which two colour fields it lies: type both");
        return None;
    }
    Some(silver)
}

fn read_loss(posted: &Posted, zone: &TimeZone) -> Result<(Loss, i64, Instant, String), FieldErrors> {
    let mut r = posted.reader();
    let loss = r.choice("loss", Loss::from_word);
    let (volume, at) = (volume_of(&mut r, "volume", 1), r.local_time("happened_at", zone));
    let remark = r.text("remark", 1..=400);
    r.finish((|| Some((loss?, volume?, at?, remark?)))())
}

/// A spill, a sample, what evaporated.
pub(in crate::web::front) async fn write_off(
    state: AppState,
    frame: Frame,
    vessel: Vessel,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let read = read_loss(&posted, &zone);
    let (loss, lost_ul, at, remark) = match read {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "write-off", &posted, errors).await,
    };
    let occasion = occasion(&state, &posted, at, remark);
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                movements::write_off(tx, &occasion, vessel, loss, lost_ul).await?;
                let what = match loss {
                    Loss::Spill => "spill written off",
                    Loss::Sample => "sample written off",
                    Loss::Evaporation => "evaporation written off",
                };
                log(tx, occasion.recorded_at, occasion.actor, what, vessel, &volume::in_words(lost_ul)).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "write-off", &posted, written).await
}
