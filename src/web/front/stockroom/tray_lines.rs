//! Tray lines: a set of trays in use, with a name and places in the dark. What stands in them is
//! chemistry's page.

use askama::Template;
use axum::{
    extract::{Path, State},
    response::{IntoResponse, Response},
};

use sqlx::SqliteConnection;

use crate::{
    domain::{field_errors::FieldErrors, ids::TrayLineId},
    store::{
        Stale, WriteError,
        baths::tray_lines::{self, TrayLine},
        people::change_log,
        site::sites,
    },
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
        request::posted::{Posted, Reader},
    },
};

pub(super) fn routes() -> Vec<Route> {
    vec![
        change("/front/stockroom/tray-lines", Access::Staff, create),
        page("/front/stockroom/tray-lines/{id}", Access::Staff, edit),
        change("/front/stockroom/tray-lines/{id}", Access::Staff, update),
        change("/front/stockroom/tray-lines/{id}/put-away", Access::Staff, put_away),
        change("/front/stockroom/tray-lines/{id}/take-out", Access::Staff, take_out),
    ]
}

async fn create(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let id: TrayLineId = state.mint();
    let mut r = posted.reader();
    let (name, places) = (r.text("tray_line_name", 1..=120), read_places(&mut r));
    let (name, places) = match r.finish(name.zip(places)) {
        Ok(read) => read,
        Err(errors) => return super::show_with(&state, frame, Form::refused(&posted, errors)).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let site = sites::find(tx).await?.ok_or(WriteError::Missing("the site"))?;
                refuse_taken(tx, id, &name).await?;
                tray_lines::insert(tx, id, site.id, &name, places).await?;
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

fn read_places(r: &mut Reader<'_>) -> Option<Option<i64>> {
    if r.raw("places").is_empty() { Some(None) } else { r.whole("places", 1..=100).map(Some) }
}

/// Two lines of one name could not be told apart in the dark.
async fn refuse_taken(tx: &mut SqliteConnection, id: TrayLineId, name: &str) -> Result<(), WriteError> {
    if tray_lines::list(tx).await?.iter().any(|line| line.id != id && line.name == name) {
        return Err(FieldErrors::one("tray_line_name", "there is a set of trays of this name already").into());
    }
    Ok(())
}

#[derive(Template)]
#[template(path = "front/tray_line_edit.html")]
struct TrayLinePage {
    frame: Frame,
    form: Form,
    id: TrayLineId,
}

async fn edit(State(state): State<AppState>, frame: Frame, Path(id): Path<TrayLineId>) -> Result<Response, WebError> {
    let line = tray_lines::find(&mut *state.store.read().await?, id).await?.ok_or(WebError::NotFound("these trays"))?;
    let values = [
        ("tray_line_name", line.name.clone()),
        ("places", line.places.map_or(String::new(), |places| places.to_string())),
    ];
    let form = Form::filled(&frame, line.version, values);
    Ok(Page::new(TrayLinePage { frame, form, id }).into_response())
}

/// Another name, another number of places: what is recorded of the line follows.
async fn update(
    State(state): State<AppState>,
    frame: Frame,
    Path(id): Path<TrayLineId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let again = |errors| {
        let form = Form::refused(&posted, errors);
        Ok(Page::new(TrayLinePage { frame: frame.clone(), form, id }).unprocessable().into_response())
    };
    let mut r = posted.reader();
    let (name, places) = (r.text("tray_line_name", 1..=120), read_places(&mut r));
    let (name, places) = match r.finish(name.zip(places)) {
        Ok(read) => read,
        Err(errors) => return again(errors),
    };
    let (at, actor, version) = (posted.at(), posted.actor(), posted.version());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let stored = tray_lines::find(tx, id).await?.ok_or(WriteError::Missing("these trays"))?;
                refuse_taken(tx, id, &name).await?;
                let sent = TrayLine { id, name, places, version };
                if !tray_lines::update(tx, &sent).await? {
                    let path = format!("/front/stockroom/tray-lines/{id}");
                    return Err(WriteError::Stale(Stale::between(
                        "these trays",
                        path,
                        described(&sent),
                        described(&stored),
                    )));
                }
                let detail = format!("{}, before: {}", sent.name, stored.name);
                change_log::insert(tx, at, actor, "tray line edited", "tray_line", id, &detail).await?;
                Ok("/front/stockroom".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => again(errors),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

fn described(line: &TrayLine) -> Vec<(&'static str, String)> {
    vec![("Name", line.name.clone()), ("Places", line.places.map_or(String::new(), |places| places.to_string()))]
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
