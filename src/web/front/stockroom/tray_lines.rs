//! Tray lines: a set of trays in use, with a name. What stands in them is chemistry's page.

use axum::{
    extract::{Path, State},
    response::Response,
};

use crate::{
    domain::{field_errors::FieldErrors, ids::TrayLineId},
    store::{WriteError, change_log, sites, tray_lines},
    web::{
        access::Access,
        error::WebError,
        form::Form,
        frame::Frame,
        page::see_other,
        posted::Posted,
        routes::{Route, change},
        state::AppState,
    },
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        change("/front/stockroom/tray-lines", Access::Staff, create),
        change("/front/stockroom/tray-lines/{id}/put-away", Access::Staff, put_away),
        change("/front/stockroom/tray-lines/{id}/take-out", Access::Staff, take_out),
    ]
}

async fn create(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let id: TrayLineId = state.mint();
    let mut r = posted.reader();
    let name = r.text("tray_line_name", 1..=120);
    let name = match r.finish(name) {
        Ok(name) => name,
        Err(errors) => return super::show_with(&state, frame, Form::refused(&posted, errors)).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let site = sites::find(tx).await?.ok_or(WriteError::Missing("the site"))?;
                if tray_lines::list(tx).await?.iter().any(|line| line.name == name) {
                    return Err(
                        FieldErrors::one("tray_line_name", "there is a set of trays of this name already").into()
                    );
                }
                tray_lines::insert(tx, id, site.id, &name).await?;
                change_log::insert(tx, at, actor, "tray line added", "tray_line", id, &name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => super::show_with(&state, frame, Form::refused(&posted, errors)).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn put_away(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<TrayLineId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let line = tray_lines::find(tx, id).await?.ok_or(WriteError::Missing("these trays"))?;
                if tray_lines::count_standing(tx, id).await? > 0 {
                    let words = format!(
                        "“{}” still holds solutions: take the batches out of its trays first, on the chemistry page",
                        line.name
                    );
                    return Err(FieldErrors::whole(words).into());
                }
                tray_lines::put_away(tx, id, at).await?;
                change_log::insert(tx, at, actor, "tray line put away", "tray_line", id, &line.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => super::show_with(&state, frame, Form::refused(&posted, errors)).await,
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

async fn take_out(
    State(state): State<AppState>,
    Path(id): Path<TrayLineId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let line = tray_lines::find(tx, id).await?.ok_or(WriteError::Missing("these trays"))?;
                tray_lines::take_out(tx, id).await?;
                change_log::insert(tx, at, actor, "tray line taken out again", "tray_line", id, &line.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
