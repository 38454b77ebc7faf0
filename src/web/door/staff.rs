//! Signing in of instructors and assistants.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;

use crate::{
    domain::field_errors::FieldErrors,
    store::accounts,
    web::{error::WebError, frame::Frame, posted::Posted, state::AppState},
};

use super::{
    beginning::{Beginning, Who, asked_for},
    sheet::{Sheet, Way},
};

const NO_ACCOUNT: &str = "no account has this sign-in name and password";

/// Signs in.
pub async fn sign_in(
    State(state): State<AppState>,
    frame: Frame,
    jar: CookieJar,
    posted: Posted,
) -> Result<Response, WebError> {
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
    let tries = format!("account:{}", name.to_lowercase());
    tokio::time::sleep(state.slowdown.delay(&tries, state.now())).await;

    let mut conn = state.store.read().await?;
    let found = accounts::find_for_sign_in(&mut conn, &name).await?;
    drop(conn);
    let (account, hash) = found.map_or((None, None), |(account, hash)| (Some(account), Some(hash)));
    let right = state.hasher.verify_password(password, hash).await;
    let Some(account) = account.filter(|_| right) else {
        state.slowdown.wrong(&tries, state.now());
        return Ok(Sheet::refused(frame, Way::Staff, &posted, FieldErrors::whole(NO_ACCOUNT)).into_response());
    };
    state.slowdown.right(&tries);

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
        Ok(landing) => Ok(beginning.go_on(&state, jar, &landing)),
        Err(error) => Ok(Sheet::after(frame, Way::Staff, &posted, error)?.into_response()),
    }
}
