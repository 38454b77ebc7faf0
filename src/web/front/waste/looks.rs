//! A look at a container: closed, labelled, sound.

use axum::{
    extract::{Path, State},
    response::Response,
};

use crate::{
    domain::{
        book::Vessel,
        field_errors::FieldErrors,
        ids::{ContainerId, LookId},
        waste::{look::Look, taken_back::TakenBack},
    },
    store::{
        WriteError,
        waste::{containers, looks},
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

use super::super::vessel_acts::{answer, log, path_of, show_again, zone};

pub(super) fn routes() -> Vec<Route> {
    vec![
        change("/front/waste/containers/{id}/look", Access::Staff, look),
        change("/front/waste/containers/{id}/looks/take-back", Access::Staff, take_back),
    ]
}

async fn look(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (zone, vessel) = (zone(&state).await?, Vessel::Container(id));
    let (closed, labelled, sound) = (posted.ticked("closed"), posted.ticked("labelled"), posted.ticked("sound"));
    let mut r = posted.reader();
    let (at, remark) = (r.local_time("happened_at", &zone), r.text("remark", 0..=400));
    if at.is_some_and(|at| at > posted.at()) {
        r.wrong("happened_at", "must not lie in the future");
    }
    if !(closed && labelled && sound) && remark.as_deref() == Some("") {
        r.wrong("remark", "must say what was not as it should be, and what was done about it");
    }
    let (at, remark) = match r.finish(at.zip(remark)) {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "look", &posted, errors).await,
    };
    let (new, now, actor) = (state.mint(), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let container = containers::find(tx, id).await?.ok_or(WriteError::Missing("this container"))?;
                if container.is_removed() {
                    return Err(FieldErrors::whole("it was removed: there is nothing to look at").into());
                }
                let looked_by = actor.person().ok_or(WriteError::Forbidden("a look names who looked"))?;
                let look = Look {
                    id: new,
                    container: id,
                    looked_at: at,
                    closed,
                    labelled,
                    sound,
                    remark,
                    looked_by,
                    taken_back: None,
                };
                looks::insert(tx, &look, now).await?;
                log(tx, now, actor, "container looked at", vessel, &look.in_words()).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "look", &posted, written).await
}

/// A look that never was, or was at another container: it stays in sight, and counts no more.
async fn take_back(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<ContainerId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let vessel = Vessel::Container(id);
    let mut r = posted.reader();
    let (look, why) = (r.id::<LookId>("look"), r.text("why", 1..=400));
    let (look, why) = match r.finish(look.zip(why)) {
        Ok(read) => read,
        Err(errors) => return show_again(&state, frame, vessel, "take-back", &posted, errors).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let by = actor.person().ok_or(WriteError::Forbidden("taking back names who does it"))?;
                if !looks::update_taken_back(tx, (id, look), &TakenBack { at, by, why }).await? {
                    return Err(FieldErrors::whole("this look was taken back already").into());
                }
                log(tx, at, actor, "look taken back", vessel, "").await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "take-back", &posted, written).await
}
