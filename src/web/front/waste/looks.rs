//! A look at a container: closed, labelled, sound.

use axum::{
    extract::{Path, State},
    response::Response,
};
use jiff::civil::Date;
use sqlx::SqliteConnection;

use crate::{
    domain::{
        book::Vessel,
        container::Container,
        field_errors::FieldErrors,
        ids::ContainerId,
        look::{Look, look_due},
        site::Site,
        site_waste::SiteWaste,
    },
    store::{Error, WriteError, containers, looks},
    web::{
        access::Access,
        error::WebError,
        frame::Frame,
        posted::Posted,
        routes::{Route, change},
        state::AppState,
    },
};

use super::super::vessel_acts::{answer, log, path_of, show_again, zone};

pub(super) fn routes() -> Vec<Route> {
    vec![change("/front/waste/containers/{id}/look", Access::Staff, look)]
}

/// The day by which somebody must look at a container again, by the site's own rule.
pub(super) async fn due(
    conn: &mut SqliteConnection,
    container: &Container,
    site: &Site,
    waste: &SiteWaste,
) -> Result<Option<Date>, Error> {
    let Some(every) = waste.look_every_days.filter(|_| !container.is_removed() && container.put_away_at.is_none())
    else {
        return Ok(None);
    };
    let last = looks::list_of(conn, container.id).await?.first().map(|look| look.looked_at);
    Ok(look_due(last, container.first_drop_at, every, &site.zone))
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
                let look = Look { id: new, container: id, looked_at: at, closed, labelled, sound, remark, looked_by };
                looks::insert(tx, &look, now).await?;
                log(tx, now, actor, "container looked at", vessel, &look.in_words()).await?;
                Ok(path_of(vessel))
            })
        })
        .await;
    answer(&state, frame, vessel, "look", &posted, written).await
}
