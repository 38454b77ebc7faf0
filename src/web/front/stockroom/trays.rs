//! The trays at hand: their sizes, and what one must hold to be worked in.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{SiteId, TrayId},
        measure::volume,
        stock::tray::Tray,
    },
    store::{Stale, WriteError, people::change_log, site::sites, stock::trays},
    web::{
        kit::{
            access::Access,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            state::AppState,
        },
        request::posted::Posted,
    },
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/stockroom/trays/new", Access::Staff, new),
        change("/front/stockroom/trays", Access::Staff, create),
        page("/front/stockroom/trays/{id}", Access::Staff, edit),
        change("/front/stockroom/trays/{id}", Access::Staff, update),
        change("/front/stockroom/trays/{id}/put-away", Access::Staff, put_away),
        change("/front/stockroom/trays/{id}/take-out", Access::Staff, take_out),
    ]
}

#[derive(Template)]
#[template(path = "front/trays_edit.html")]
struct TraysPage {
    frame: Frame,
    form: Form,
    id: Option<TrayId>,
}

async fn new(frame: Frame) -> impl IntoResponse {
    let form = Form::filled(&frame, 0, [("count", "4".to_owned())]);
    Page::new(TraysPage { frame, form, id: None })
}

async fn edit(State(state): State<AppState>, frame: Frame, Path(id): Path<TrayId>) -> Result<Response, WebError> {
    let tray = trays::find(&mut *state.store.read().await?, id).await?.ok_or(WebError::NotFound("these trays"))?;
    let values = [
        ("trays_name", tray.name.clone()),
        ("holds", frame.units.volume_typed(tray.holds_ul)),
        ("count", tray.count.to_string()),
        ("source", tray.source.clone()),
    ];
    let form = Form::filled(&frame, tray.version, values);
    Ok(Page::new(TraysPage { frame, form, id: Some(id) }).into_response())
}

fn read(posted: &Posted, id: TrayId, site: SiteId, holds_ul: Option<i64>) -> Result<Tray, FieldErrors> {
    let mut r = posted.reader();
    let name = r.text("trays_name", 1..=120);
    let holds = r.volume("holds", holds_ul, 50_000..=100_000_000);
    let (count, source) = (r.whole("count", 1..=1000), r.text("source", 0..=200));
    let tray = (|| {
        Some(Tray {
            id,
            site,
            name: name?,
            holds_ul: holds?,
            count: count?,
            source: source?,
            version: posted.version(),
        })
    })();
    r.finish(tray)
}

async fn create(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let site = sites::find(&mut *state.store.read().await?).await?.ok_or(WebError::NotFound("the site"))?.id;
    let tray = match read(&posted, state.mint(), site, None) {
        Ok(tray) => tray,
        Err(errors) => {
            let form = Form::refused(&posted, errors);
            return Ok(Page::new(TraysPage { frame, form, id: None }).unprocessable().into_response());
        }
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                trays::insert(tx, &tray).await?;
                change_log::insert(tx, at, actor, "trays stocked", "tray", tray.id, &tray.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

async fn update(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<TrayId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let old = trays::find(&mut *state.store.read().await?, id).await?.ok_or(WebError::NotFound("these trays"))?;
    let tray = match read(&posted, id, old.site, Some(old.holds_ul)) {
        Ok(tray) => tray,
        Err(errors) => {
            let form = Form::refused(&posted, errors);
            return Ok(Page::new(TraysPage { frame, form, id: Some(id) }).unprocessable().into_response());
        }
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = trays::find(tx, id).await?.ok_or(WriteError::Missing("these trays"))?;
                if !trays::update(tx, &tray).await? {
                    let path = format!("/front/stockroom/trays/{id}");
                    return Err(WriteError::Stale(Stale::between(
                        "these trays",
                        path,
                        described(&tray),
                        described(&stored),
                    )));
                }
                change_log::insert(tx, at, actor, "trays edited", "tray", id, &tray.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

fn described(tray: &Tray) -> Vec<(&'static str, String)> {
    vec![
        ("Name", tray.name.clone()),
        ("What one must hold", volume::in_words(tray.holds_ul)),
        ("How many", tray.count.to_string()),
        ("Where the volume comes from", tray.source.clone()),
    ]
}

async fn put_away(State(state): State<AppState>, Path(id): Path<TrayId>, posted: Posted) -> Result<Response, WebError> {
    shelve(state, id, posted, true).await
}

async fn take_out(State(state): State<AppState>, Path(id): Path<TrayId>, posted: Posted) -> Result<Response, WebError> {
    shelve(state, id, posted, false).await
}

async fn shelve(state: AppState, id: TrayId, posted: Posted, away: bool) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let tray = trays::find(tx, id).await?.ok_or(WriteError::Missing("these trays"))?;
                trays::update_put_away(tx, id, away.then_some(at)).await?;
                let what = if away { "trays put away" } else { "trays taken out again" };
                change_log::insert(tx, at, actor, what, "tray", id, &tray.name).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
