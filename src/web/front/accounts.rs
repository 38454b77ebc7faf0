//! Accounts of instructors and assistants.

use std::sync::{
    Arc,
    atomic::{AtomicBool, Ordering},
};

use askama::Template;
use axum::{
    extract::{Path, State},
    http::HeaderMap,
    response::{IntoResponse, Response},
};
use axum_extra::extract::CookieJar;
use sqlx::SqliteConnection;

use crate::{
    domain::{field_errors::FieldErrors, ids::AccountId, instant::Instant, people::actor::Role},
    secrets,
    store::{
        self, WriteError,
        people::{
            accounts::{self, Account, LinkPurpose},
            change_log, sign_ins,
        },
    },
    web::{
        kit::{
            access::{Access, Staff},
            cookies,
            error::WebError,
            form::Form,
            frame::Frame,
            page::{Page, see_other},
            routes::{Route, change, page},
            shown_once::{AfterWrite, Shown, What},
            state::AppState,
        },
        request::{
            new_account::{name_taken, new_password, sign_in_name},
            posted::Posted,
        },
    },
};

/// How long a link for a new password works.
const LINK_HOURS: i64 = 48;

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/accounts", Access::Instructor, list),
        change("/front/accounts", Access::Instructor, create),
        page("/front/accounts/{id}", Access::Instructor, show),
        change("/front/accounts/{id}/link", Access::Instructor, link),
        change("/front/accounts/{id}/end", Access::Instructor, end),
        change("/front/passed-on", Access::Staff, passed_on),
    ]
}

/// All accounts.
#[derive(Template)]
#[template(path = "front/accounts.html")]
struct Accounts {
    frame: Frame,
    form: Form,
    roles: Vec<(String, String)>,
    shown: Vec<Shown>,
    accounts: Vec<Account>,
    hours: i64,
}

/// One account.
#[derive(Template)]
#[template(path = "front/account.html")]
struct OneAccount {
    frame: Frame,
    form: Form,
    account: Account,
    last_instructor: bool,
    oneself: bool,
    hours: i64,
}

/// Lists the accounts.
async fn list(State(state): State<AppState>, frame: Frame, jar: CookieJar) -> Result<Page<Accounts>, WebError> {
    let form = Form::filled(&frame, 0, [("role", Role::Assistant.as_str().to_owned())]);
    filled(&state, frame, &jar, form).await
}

async fn filled(state: &AppState, frame: Frame, jar: &CookieJar, form: Form) -> Result<Page<Accounts>, WebError> {
    let mut conn = state.store.read().await?;
    let roles = [
        (Role::Assistant, "Assistant: chemistry, waste and marks"),
        (Role::Instructor, "Instructor: everything, accounts too"),
    ];
    Ok(Page::new(Accounts {
        frame,
        form,
        roles: roles.map(|(role, words)| (role.as_str().to_owned(), words.to_owned())).into(),
        shown: shown_to(state, jar, &What::Link),
        accounts: accounts::list(&mut conn).await?,
        hours: LINK_HOURS,
    }))
}

/// What of that kind waits to be shown to this sign-in.
pub fn shown_to(state: &AppState, jar: &CookieJar, what: &What) -> Vec<Shown> {
    let shown = cookies::token_hash(jar).map(|hash| state.shown.list(&hash)).unwrap_or_default();
    shown.into_iter().filter(|shown| shown.what == *what).collect()
}

/// A new account as typed; without a password a link is made for it.
struct NewAccount {
    role: Role,
    display_name: String,
    sign_in_name: String,
    password: Option<String>,
}

impl NewAccount {
    fn read(posted: &Posted) -> Result<Self, FieldErrors> {
        let mut reader = posted.reader();
        let display_name = reader.text("display_name", 1..=120);
        let sign_in_name = sign_in_name(&mut reader);
        let role = reader.choice("role", Role::from_word);
        let with_password = !(posted.get("password").is_empty() && posted.get("password_again").is_empty());
        let password = if with_password { new_password(&mut reader, posted).map(Some) } else { Some(None) };
        reader.finish((|| {
            Some(Self { role: role?, display_name: display_name?, sign_in_name: sign_in_name?, password: password? })
        })())
    }
}

/// Adds an account.
async fn create(
    State(state): State<AppState>,
    staff: Staff,
    frame: Frame,
    jar: CookieJar,
    headers: HeaderMap,
    posted: Posted,
) -> Result<Response, WebError> {
    let new = match NewAccount::read(&posted) {
        Ok(new) => new,
        Err(errors) => {
            let again = filled(&state, frame, &jar, Form::refused(&posted, errors)).await?;
            return Ok(again.unprocessable().into_response());
        }
    };
    let link = match new.password {
        None => Some(OneTimeLink::new(&state, &jar, &headers, &new.display_name)?),
        Some(_) => None,
    };
    let hash = match &new.password {
        Some(password) => state.hasher.hash_password(password, &state.world.chance).await,
        // no password fits this: the link sets the first one
        None => "none yet".to_owned(),
    };
    let (id, at, actor) = (state.mint::<AccountId>(), posted.at(), staff.actor());
    let storing = link.as_ref().map(|link| (link.token_hash, link.showing.ran()));
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                accounts::insert(tx, id, new.role, &new.sign_in_name, &new.display_name, &hash, at)
                    .await
                    .map_err(name_taken)?;
                change_log::insert(tx, at, actor, "account made", "account", id, new.role.as_str()).await?;
                if let Some(link) = storing {
                    store_link(tx, link, id, at).await?;
                }
                Ok("/front/accounts".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => {
            if let Some(link) = link {
                link.showing.put_up(&state.shown, at);
            }
            Ok(see_other(&landing))
        }
        Err(WriteError::Refused(errors)) => {
            let again = filled(&state, frame, &jar, Form::refused(&posted, errors)).await?;
            Ok(again.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// A link about to be made, and the colleague it is shown to.
struct OneTimeLink {
    token_hash: [u8; 32],
    showing: AfterWrite,
}

impl OneTimeLink {
    fn new(state: &AppState, jar: &CookieJar, headers: &HeaderMap, whose: &str) -> Result<Self, WebError> {
        let here = cookies::token_hash(jar).ok_or(WebError::SignedOut { reading: false })?;
        let token = secrets::new_token(&state.world.chance);
        let text = state.reach.address(headers, &format!("/new-password/{token}"));
        let shown = Shown { what: What::Link, whose: whose.to_owned(), text };
        Ok(Self { token_hash: secrets::token_hash(&token), showing: AfterWrite::to(here, shown) })
    }
}

/// Stores a link's hash, inside the write.
async fn store_link(
    tx: &mut SqliteConnection,
    (token_hash, ran): ([u8; 32], Arc<AtomicBool>),
    id: AccountId,
    at: Instant,
) -> Result<(), store::Error> {
    let expires_at = at.plus_minutes(LINK_HOURS * 60);
    accounts::insert_link(tx, &token_hash, LinkPurpose::NewPassword(id), expires_at, at).await?;
    ran.store(true, Ordering::SeqCst);
    Ok(())
}

/// Shows one account with what can be done about it.
async fn show(
    State(state): State<AppState>,
    staff: Staff,
    frame: Frame,
    Path(id): Path<AccountId>,
) -> Result<Page<OneAccount>, WebError> {
    let form = Form::empty(&frame);
    page_of(&state, &staff, frame, id, form).await
}

async fn page_of(
    state: &AppState,
    staff: &Staff,
    frame: Frame,
    id: AccountId,
    form: Form,
) -> Result<Page<OneAccount>, WebError> {
    let mut conn = state.store.read().await?;
    let account = accounts::find(&mut conn, id).await?.ok_or(WebError::NotFound("this account"))?;
    let last_instructor = is_last_instructor(&mut conn, &account).await?;
    Ok(Page::new(OneAccount { frame, form, last_instructor, oneself: id == staff.account, account, hours: LINK_HOURS }))
}

async fn is_last_instructor(conn: &mut SqliteConnection, account: &Account) -> Result<bool, store::Error> {
    let alone = accounts::count_instructors(conn).await? <= 1;
    Ok(alone && account.role == Role::Instructor && account.ended_at.is_none())
}

/// Makes a link for a new password.
async fn link(
    State(state): State<AppState>,
    staff: Staff,
    jar: CookieJar,
    headers: HeaderMap,
    Path(id): Path<AccountId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let mut conn = state.store.read().await?;
    let account = accounts::find(&mut conn, id).await?.ok_or(WebError::NotFound("this account"))?;
    drop(conn);
    let link = OneTimeLink::new(&state, &jar, &headers, &account.display_name)?;
    let (at, actor, storing) = (posted.at(), staff.actor(), (link.token_hash, link.showing.ran()));
    let landing = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let account = accounts::find(tx, id).await?.ok_or(WriteError::Missing("this account"))?;
                if account.ended_at.is_some() {
                    return Err(WriteError::Forbidden("this account has ended"));
                }
                store_link(tx, storing, id, at).await?;
                change_log::insert(tx, at, actor, "new-password link made", "account", id, "").await?;
                Ok("/front/accounts".to_owned())
            })
        })
        .await
        .map_err(|error| WebError::from_write(error, &posted))?;
    link.showing.put_up(&state.shown, at);
    Ok(see_other(&landing))
}

/// Ends an account and its sign-ins. The last instructor stays.
async fn end(
    State(state): State<AppState>,
    staff: Staff,
    frame: Frame,
    Path(id): Path<AccountId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor) = (posted.at(), staff.actor());
    let written = state
        .store
        .write(posted.stamp(), move |tx| {
            Box::pin(async move {
                let account = accounts::find(tx, id).await?.ok_or(WriteError::Missing("this account"))?;
                if is_last_instructor(tx, &account).await? {
                    return Err(FieldErrors::whole("this is the last instructor: make another one first").into());
                }
                accounts::end(tx, id, at).await?;
                sign_ins::end_of_account(tx, id, at).await?;
                change_log::insert(tx, at, actor, "account ended", "account", id, "").await?;
                Ok("/front/accounts".to_owned())
            })
        })
        .await;
    match written {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let again = page_of(&state, &staff, frame, id, Form::refused(&posted, errors)).await?;
            Ok(again.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}

/// What was shown once has been passed on: it is forgotten.
async fn passed_on(State(state): State<AppState>, _staff: Staff, jar: CookieJar, posted: Posted) -> Response {
    if let Some(hash) = cookies::token_hash(&jar) {
        state.shown.clear_of(&hash, posted.get("whose"));
    }
    see_other(posted.get("back"))
}
