//! `/front/waste/recovery`: silver recovered on site, and the cartridges that were changed.

use askama::Template;
use axum::{extract::State, response::Response};

use crate::{
    domain::{
        book::written,
        field_errors::FieldErrors,
        ids::CartridgeChangeId,
        waste::{recovery::CartridgeChange, taken_back::TakenBack},
    },
    store::{
        WriteError, book as stored_book,
        people::{change_log, names as people},
        site::sites,
        waste::{containers, recoveries},
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
        request::posted::Posted,
    },
};

use super::super::vessel_acts::{shown, zone};

pub(super) fn routes() -> Vec<Route> {
    vec![
        page("/front/waste/recovery", Access::Staff, show),
        change("/front/waste/recovery/cartridges", Access::Staff, change_cartridge),
        change("/front/waste/recovery/cartridges/take-back", Access::Staff, take_back),
    ]
}

#[derive(Template)]
#[template(path = "front/recovery.html")]
struct RecoveryPage {
    frame: Frame,
    form: Form,
    /// The form that takes a change of cartridges back.
    back: Form,
    recoveries: Vec<RecoveryLine>,
    cartridges: Vec<CartridgeLine>,
    /// The changes that stand: `(id, words)`.
    standing: Vec<(String, String)>,
}

struct RecoveryLine {
    when: String,
    container: String,
    path: String,
    means: String,
    cartridge: String,
    silver: String,
    kept: String,
    how: String,
    standing: bool,
}

struct CartridgeLine {
    /// Why it was taken back; empty while it stands.
    taken_back: String,
    cartridge: String,
    when: String,
    by: String,
    old_went_to: String,
    remark: String,
}

async fn show(State(state): State<AppState>, frame: Frame) -> Result<Response, WebError> {
    show_with(&state, frame, None).await
}

/// The page, with which of its two forms was refused.
async fn show_with(
    state: &AppState,
    frame: Frame,
    refused: Option<(&'static str, Form)>,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let site = sites::find(&mut conn).await?.ok_or(WebError::NotFound("the site"))?;
    let names = people::list_names(&mut conn).await?;
    let mut lines = Vec::new();
    for recovery in recoveries::list(&mut conn).await? {
        let entries = stored_book::list_of_movement(&mut conn, recovery.movement).await?;
        let Some(entry) = entries.first() else { continue };
        let container = containers::find(&mut conn, recovery.container).await?;
        lines.push(RecoveryLine {
            when: entry.happened_at.as_words(&site.zone),
            container: container.map_or_else(String::new, |container| container.name()),
            path: format!("/front/waste/containers/{}", recovery.container),
            silver: written::grams(entry.amount.silver.map(|_| entry.amount.silver.best_ug)),
            kept: recovery.in_words(),
            means: recovery.means,
            cartridge: recovery.cartridge,
            how: recovery.measured_how,
            standing: stored_book::list_reversals_of(&mut conn, recovery.movement).await?.is_empty(),
        });
    }
    let cartridges = recoveries::list_cartridges(&mut conn).await?;
    let is_refused = refused.is_some();
    let begun = || {
        let at = state.now().as_local_control(&site.zone);
        Form::filled(&frame, 0, [("happened_at", at)])
    };
    let (form, back) = match refused {
        Some(("take-back", form)) => (begun(), form),
        Some((_, form)) => (form, Form::empty(&frame)),
        None => (begun(), Form::empty(&frame)),
    };
    let page = Page::new(RecoveryPage {
        form,
        back: back.prefixed("take-back"),
        recoveries: lines,
        standing: cartridges
            .iter()
            .filter(|change| change.taken_back.is_none())
            .map(|change| {
                (change.id.to_string(), format!("{}, {}", change.cartridge, change.changed_at.as_words(&site.zone)))
            })
            .collect(),
        cartridges: cartridges
            .into_iter()
            .map(|change| CartridgeLine {
                taken_back: change.taken_back.map_or_else(String::new, |back| back.why),
                cartridge: change.cartridge,
                when: change.changed_at.as_words(&site.zone),
                by: names.get(&change.changed_by).cloned().unwrap_or_default(),
                old_went_to: change.old_went_to,
                remark: change.remark,
            })
            .collect(),
        frame,
    });
    Ok(shown(page, is_refused))
}

async fn change_cartridge(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let zone = zone(&state).await?;
    let mut r = posted.reader();
    let (cartridge, old_went_to) = (r.text("cartridge", 1..=120), r.text("old_went_to", 0..=200));
    let (at, remark) = (r.local_time("happened_at", &zone), r.text("remark", 0..=400));
    if at.is_some_and(|at| at > posted.at()) {
        r.wrong("happened_at", "must not lie in the future");
    }
    let read = (|| Some((cartridge?, old_went_to?, at?, remark?)))();
    let (cartridge, old_went_to, changed_at, remark) = match r.finish(read) {
        Ok(read) => read,
        Err(errors) => return show_with(&state, frame, Some(("change", Form::refused(&posted, errors)))).await,
    };
    let (id, now, actor) = (state.mint(), posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let site = sites::find(tx).await?.ok_or(WriteError::Missing("the site"))?;
                let changed_by = actor.person().ok_or(WriteError::Forbidden("a change names who made it"))?;
                let change =
                    CartridgeChange { id, cartridge, changed_at, old_went_to, remark, changed_by, taken_back: None };
                recoveries::insert_cartridge(tx, site.id, &change, now).await?;
                change_log::insert(tx, now, actor, "cartridge changed", "cartridge_change", id, &change.cartridge)
                    .await?;
                Ok("/front/waste/recovery".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            show_with(&state, frame, Some(("change", Form::refused(&posted, errors)))).await
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// A change of cartridges that never was: it stays in sight.
async fn take_back(State(state): State<AppState>, frame: Frame, posted: Posted) -> Result<Response, WebError> {
    let mut r = posted.reader();
    let (id, why) = (r.id::<CartridgeChangeId>("change"), r.text("why", 1..=400));
    let (id, why) = match r.finish(id.zip(why)) {
        Ok(read) => read,
        Err(errors) => return show_with(&state, frame, Some(("take-back", Form::refused(&posted, errors)))).await,
    };
    let (at, actor) = (posted.at(), posted.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let by = actor.person().ok_or(WriteError::Forbidden("taking back names who does it"))?;
                if !recoveries::update_cartridge_taken_back(tx, id, &TakenBack { at, by, why }).await? {
                    return Err(FieldErrors::whole("this change was taken back already").into());
                }
                change_log::insert(tx, at, actor, "cartridge change taken back", "cartridge_change", id, "").await?;
                Ok("/front/waste/recovery".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            show_with(&state, frame, Some(("take-back", Form::refused(&posted, errors)))).await
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
