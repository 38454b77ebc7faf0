//! One-time links: the first instructor's account, and a new password.

use askama::Template;
use axum::{
    extract::{Path, State},
    http::StatusCode,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;

use crate::{
    domain::{
        ids::AccountId,
        people::actor::{Actor, Role},
    },
    secrets,
    store::{
        Stamp, WriteError,
        people::{
            accounts::{self, LinkPurpose},
            change_log, sign_ins,
        },
    },
    web::{
        kit::{error::WebError, form::Form, frame::Frame, page::Page, state::AppState},
        request::{
            new_account::{name_taken, new_password, sign_in_name},
            posted::Posted,
        },
    },
};

use super::beginning::{Beginning, Who};

/// A one-time link's page.
#[derive(Template)]
#[template(path = "door/one_time.html")]
pub struct OneTime {
    frame: Frame,
    form: Form,
    action: String,
    first: bool,
    name: String,
}

/// A link that no longer works.
#[derive(Template)]
#[template(path = "door/spent.html")]
pub struct Spent {
    frame: Frame,
}

fn spent(frame: Frame) -> Response {
    Page::new(Spent { frame }).with_status(StatusCode::GONE).into_response()
}

async fn purpose(state: &AppState, token: &str) -> Result<Option<LinkPurpose>, WebError> {
    let mut conn = state.store.read().await?;
    Ok(accounts::find_link(&mut conn, &secrets::token_hash(token), state.now()).await?)
}

/// The page that makes the first instructor's account.
pub async fn show(
    State(state): State<AppState>,
    Path(token): Path<String>,
    frame: Frame,
) -> Result<Response, WebError> {
    if purpose(&state, &token).await? != Some(LinkPurpose::FirstInstructor) {
        return Ok(spent(frame));
    }
    let form = Form::empty(&frame);
    Ok(page_for_first(frame, form, &token).into_response())
}

fn page_for_first(frame: Frame, form: Form, token: &str) -> Page<OneTime> {
    Page::new(OneTime { frame, form, action: format!("/first/{token}"), first: true, name: String::new() })
}

/// Makes the first instructor's account and signs in.
pub async fn create(
    State(state): State<AppState>,
    Path(token): Path<String>,
    frame: Frame,
    jar: CookieJar,
    posted: Posted,
) -> Result<Response, WebError> {
    if purpose(&state, &token).await? != Some(LinkPurpose::FirstInstructor) {
        return Ok(spent(frame));
    }
    let mut reader = posted.reader();
    let name = reader.text("display_name", 1..=120);
    let sign_in = sign_in_name(&mut reader);
    let password = new_password(&mut reader, &posted);
    let (name, sign_in, password) = match reader.finish((|| Some((name?, sign_in?, password?)))()) {
        Ok(new) => new,
        Err(errors) => return Ok(again(page_for_first(frame, Form::refused(&posted, errors), &token))),
    };
    let hash = state.hasher.hash_password(&password, &state.world.chance).await;
    let beginning = Beginning::of(&state, &jar, &posted);
    let (whose, link, at, id) =
        (beginning.clone(), secrets::token_hash(&token), posted.at(), state.mint::<AccountId>());
    let written = state
        .store
        .write(without_receipt(&beginning), move |tx| {
            Box::pin(async move {
                if accounts::find_link(tx, &link, at).await? != Some(LinkPurpose::FirstInstructor) {
                    return Err(WriteError::Missing("this link"));
                }
                accounts::use_link(tx, &link, at).await?;
                accounts::insert(tx, id, Role::Instructor, &sign_in, &name, &hash, at).await.map_err(name_taken)?;
                change_log::insert(tx, at, Actor::Visitor, "first instructor made", "account", id, "").await?;
                whose.store(tx, Who::Staff(id)).await?;
                Ok("/front".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(beginning.go_on(&state, jar, &landing)),
        Err(WriteError::Refused(errors)) => Ok(again(page_for_first(frame, Form::refused(&posted, errors), &token))),
        Err(WriteError::Missing(_)) => Ok(spent(frame)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// The link itself sees to it that this happens once.
fn without_receipt(beginning: &Beginning) -> Stamp {
    Stamp { receipt: false, ..beginning.stamp() }
}

fn again(page: Page<OneTime>) -> Response {
    page.unprocessable().into_response()
}

async fn account_of(state: &AppState, token: &str) -> Result<Option<accounts::Account>, WebError> {
    let Some(LinkPurpose::NewPassword(id)) = purpose(state, token).await? else { return Ok(None) };
    let mut conn = state.store.read().await?;
    Ok(accounts::find(&mut conn, id).await?.filter(|account| account.ended_at.is_none()))
}

fn page_for_password(frame: Frame, form: Form, token: &str, name: &str) -> Page<OneTime> {
    let action = format!("/new-password/{token}");
    Page::new(OneTime { frame, form, action, first: false, name: name.to_owned() })
}

/// The page that sets a new password.
pub async fn show_new_password(
    State(state): State<AppState>,
    Path(token): Path<String>,
    frame: Frame,
) -> Result<Response, WebError> {
    let Some(account) = account_of(&state, &token).await? else { return Ok(spent(frame)) };
    let form = Form::empty(&frame);
    Ok(page_for_password(frame, form, &token, &account.sign_in_name).into_response())
}

/// Sets the new password, ends every sign-in under the old one, and signs in here.
pub async fn set_password(
    State(state): State<AppState>,
    Path(token): Path<String>,
    frame: Frame,
    jar: CookieJar,
    posted: Posted,
) -> Result<Response, WebError> {
    let Some(account) = account_of(&state, &token).await? else { return Ok(spent(frame)) };
    let mut reader = posted.reader();
    let password = new_password(&mut reader, &posted);
    let password = match reader.finish(password) {
        Ok(password) => password,
        Err(errors) => {
            let form = Form::refused(&posted, errors);
            return Ok(again(page_for_password(frame, form, &token, &account.sign_in_name)));
        }
    };
    let hash = state.hasher.hash_password(&password, &state.world.chance).await;
    let beginning = Beginning::of(&state, &jar, &posted);
    let (whose, link, at, id) = (beginning.clone(), secrets::token_hash(&token), posted.at(), account.id);
    let written = state
        .store
        .write(without_receipt(&beginning), move |tx| {
            Box::pin(async move {
                if accounts::find_link(tx, &link, at).await? != Some(LinkPurpose::NewPassword(id)) {
                    return Err(WriteError::Missing("this link"));
                }
                accounts::use_link(tx, &link, at).await?;
                accounts::update_password(tx, id, &hash).await?;
                sign_ins::end_of_account(tx, id, at).await?;
                change_log::insert(tx, at, Actor::Staff(id), "set a new password", "account", id, "").await?;
                whose.store(tx, Who::Staff(id)).await?;
                Ok("/front".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => {
            state.slowdown.forget(&format!("account:{}", account.sign_in_name.to_lowercase()));
            Ok(beginning.go_on(&state, jar, &landing))
        }
        Err(WriteError::Missing(_)) => Ok(spent(frame)),
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
