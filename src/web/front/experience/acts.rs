//! What an instructor decides: which sheets teach, and when a new box was begun. Nothing is deleted.

use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};
use jiff::tz::TimeZone;

use crate::web::fields::sheet_fields::moment;
use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{ExposureId, LeftOutId, PaperBoxId, PaperId},
    },
    store::{
        WriteError,
        exposure::exposures,
        people::change_log,
        site::sites,
        stock::{
            paper_boxes::{self, LeftOut, PaperBox},
            papers,
        },
    },
    web::{
        kit::{error::WebError, form::Form, frame::Frame, page::see_other, state::AppState},
        request::posted::Posted,
    },
};

use super::page::{Refused, page};

fn here(id: PaperId) -> String {
    format!("/front/stockroom/papers/{id}/experience")
}

const SIGNED_OUT: WriteError = WriteError::Forbidden("nobody is signed in");

/// Leaves a sheet out, with the reason.
pub async fn leave_out(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<PaperId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut r = posted.reader();
    let exposure = r.id::<ExposureId>("exposure");
    let reason = r.text("reason", 1..=300);
    let told = r.finish(exposure.zip(reason));
    let (left_out, at, actor) = (state.mint::<LeftOutId>(), posted.at(), posted.actor());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let (exposure, reason) = told?;
            let by = actor.person().ok_or(SIGNED_OUT)?;
            let sheet = exposures::find(tx, exposure).await?.filter(|sheet| sheet.paper == id);
            let sheet = sheet.ok_or_else(|| FieldErrors::one("exposure", "choose one of those offered"))?;
            if paper_boxes::list_left_out(tx, id).await?.iter().any(|left| left.exposure == exposure) {
                return Err(FieldErrors::one("exposure", "this sheet is left out already").into());
            }
            let detail = format!("sheet {}: {reason}", sheet.number);
            paper_boxes::leave_out(tx, &LeftOut { id: left_out, exposure, reason, at }, by).await?;
            change_log::insert(tx, at, actor, "sheet left out of experience", "exposure", exposure, &detail).await?;
            Ok(here(id))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let refused = Refused::Leaving(Form::refused(&posted, errors));
            Ok(page(&state, frame, id, refused).await?.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// Lets a sheet count again.
pub async fn count_again(
    State(state): State<AppState>,
    Path(id): Path<PaperId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let exposure: Option<ExposureId> = posted.get("exposure").parse().ok();
    let (at, actor) = (posted.at(), posted.actor());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let missing = WriteError::Missing("this sheet among those left out");
            let exposure = exposure.ok_or(missing)?;
            let by = actor.person().ok_or(SIGNED_OUT)?;
            let sheet = exposures::find(tx, exposure).await?.filter(|sheet| sheet.paper == id);
            let sheet = sheet.ok_or(WriteError::Missing("this sheet among those left out"))?;
            if paper_boxes::count_again(tx, exposure, by, at).await? {
                let detail = format!("sheet {}", sheet.number);
                change_log::insert(tx, at, actor, "sheet counts again", "exposure", exposure, &detail).await?;
            }
            Ok(here(id))
        })
    });
    written.await.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// Starts afresh for a new box of paper.
pub async fn new_box(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<PaperId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let zone = sites::find(&mut *state.store.read().await?).await?.map_or(TimeZone::UTC, |site| site.zone);
    let mut r = posted.reader();
    let begun_at = moment(&mut r, "begun_at", &zone, posted.at());
    let remark = r.text("remark", 0..=200);
    let told = r.finish(begun_at.zip(remark));
    let (box_id, at, actor) = (state.mint::<PaperBoxId>(), posted.at(), posted.actor());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let (begun_at, remark) = told?;
            let paper = papers::find(tx, id).await?.ok_or(WriteError::Missing("this paper"))?;
            let recorded_by = actor.person().ok_or(SIGNED_OUT)?;
            let new =
                PaperBox { id: box_id, paper: id, begun_at, remark, recorded_by, recorded_at: at, taken_back_at: None };
            paper_boxes::insert(tx, &new).await?;
            let detail = format!("{} {}", paper.name, new.remark);
            change_log::insert(tx, at, actor, "new box of paper begun", "paper", id, detail.trim()).await?;
            Ok(here(id))
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let refused = Refused::Box(Form::refused(&posted, errors));
            Ok(page(&state, frame, id, refused).await?.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// It was no new box after all: the sheets before it teach again.
pub async fn take_box_back(
    State(state): State<AppState>,
    Path(id): Path<PaperId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let box_id: Option<PaperBoxId> = posted.get("box").parse().ok();
    let (at, actor) = (posted.at(), posted.actor());
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let box_id = box_id.ok_or(WriteError::Missing("this box"))?;
            let by = actor.person().ok_or(SIGNED_OUT)?;
            if paper_boxes::take_back(tx, box_id, by, at).await? {
                change_log::insert(tx, at, actor, "new box of paper taken back", "paper", id, "").await?;
            }
            Ok(here(id))
        })
    });
    written.await.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
