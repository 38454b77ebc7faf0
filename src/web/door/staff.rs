//! Signing in of instructors and assistants.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;

use crate::{
    domain::{field_errors::FieldErrors, ids::AccountId},
    store::{WriteError, people::accounts},
    web::{
        kit::{
            caller::Caller,
            error::WebError,
            frame::Frame,
            known_browser::{self, KnownFor},
            slowdown::Pace,
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::{
    beginning::{Beginning, Who, asked_for},
    sheet::{Sheet, Way},
};

const NO_ACCOUNT: &str = "no account has this sign-in name and password";

/// Under what a try is counted: apart for a browser in which this account was used before, whom no stranger delays; else
/// by where it comes from, and for the account from wherever.
async fn tries(
    state: &AppState,
    jar: &CookieJar,
    caller: Caller,
    name: &str,
    account: Option<AccountId>,
) -> Result<(String, Option<String>), WriteError> {
    let key = format!("account:{}", name.to_lowercase());
    let known = match account {
        Some(id) => known_browser::find(state, jar, KnownFor::Account(id)).await?,
        None => None,
    };
    Ok(match known {
        Some(number) => (format!("{key}#{number}"), None),
        None => (format!("{key}@{}", caller.key()), Some(key)),
    })
}

fn in_all(key: &str) -> (&str, Pace) {
    (key, Pace::ACCOUNT)
}

/// Signs in.
pub async fn sign_in(
    State(state): State<AppState>,
    caller: Caller,
    frame: Frame,
    jar: CookieJar,
    posted: Posted,
) -> Result<Response, WebError> {
    let unsaved = |error| WebError::from_write(error, &posted);
    let mut reader = posted.reader();
    let name = reader.text("sign_in_name", 0..=60);
    if name.as_deref() == Some("") {
        reader.wrong("sign_in_name", "type your sign-in name");
    }
    let password = posted.get("password");
    if password.is_empty() {
        reader.wrong("password", "type your password");
    }
    let name = match reader.finish(name) {
        Ok(name) => name,
        Err(errors) => return Ok(Sheet::refused(frame, Way::Staff, &posted, errors).into_response()),
    };
    let mut conn = state.store.read().await?;
    let found = accounts::find_for_sign_in(&mut conn, &name).await?;
    drop(conn);
    let (account, hash) = found.map_or((None, None), |(account, hash)| (Some(account), Some(hash)));
    let (own, anywhere) = tries(&state, &jar, caller, &name, account).await.map_err(unsaved)?;
    let trying = match state.slowdown.begin((&own, Pace::PERSON), anywhere.as_deref().map(in_all), &state.world).await {
        Ok(trying) => trying,
        Err(wait) => return Ok(Sheet::waiting(frame, Way::Staff, &posted, wait)),
    };
    // strangers of one address stand in one line, whatever names they try
    let line = if anywhere.is_some() { format!("staff@{}", caller.key()) } else { own };
    let turn = match state.hashing.turn(&line).await {
        Ok(turn) => turn,
        Err(busy) => {
            trying.right();
            return Err(busy);
        }
    };
    let right = state.hasher.verify_password(password, hash).await;
    drop(turn);
    let Some(account) = account.filter(|_| right) else {
        return Ok(Sheet::refused(frame, Way::Staff, &posted, FieldErrors::whole(NO_ACCOUNT)).into_response());
    };
    trying.right();

    let beginning = Beginning::of(&state, &jar, &posted);
    let (whose, landing) = (beginning.clone(), asked_for(&posted, "/front"));
    let written = state
        .store
        .write(beginning.stamp(), move |tx| {
            Box::pin(async move {
                let stands = accounts::find(tx, account).await?.is_some_and(|account| account.ended_at.is_none());
                if !stands {
                    return Err(FieldErrors::whole(NO_ACCOUNT).into());
                }
                whose.store(tx, Who::Staff(account)).await?;
                Ok(landing)
            })
        })
        .await;
    match written {
        Ok(landing) => {
            let whom = KnownFor::Account(account);
            let jar = known_browser::mark(&state, jar, whom, &beginning.token_hash()).await;
            Ok(beginning.go_on(&state, jar, &landing))
        }
        Err(error) => Ok(Sheet::after(frame, Way::Staff, &posted, error)?.into_response()),
    }
}
