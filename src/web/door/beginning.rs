//! The beginning of a sign-in: a token for the cookie, its hash for the database.

use axum::response::{IntoResponse, Response};
use axum_extra::extract::CookieJar;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use sha2::{Digest, Sha256};
use sqlx::SqliteConnection;

use crate::{
    domain::{
        ids::{AccountId, Id, StudentId},
        instant::Instant,
        people::actor::Actor,
    },
    secrets,
    store::{Error, Stamp, people::sign_ins},
    web::{
        kit::{
            cookies,
            page::{is_local, see_other},
            state::AppState,
        },
        request::posted::Posted,
    },
};

/// Who signs in.
#[derive(Clone, Copy, Debug)]
pub enum Who {
    /// An instructor or assistant.
    Staff(AccountId),
    /// A student.
    Student(StudentId),
}

/// A sign-in about to begin.
#[derive(Clone, Debug)]
pub struct Beginning {
    token: String,
    previous: Option<[u8; 32]>,
    shared: bool,
    at: Instant,
    stamp: Stamp,
}

impl Beginning {
    /// Reads from a door's form what every sign-in needs.
    ///
    /// The token follows from the form's id and this run's pepper: an impatient second click sends
    /// the same form, gets the same receipt, and must end with the same cookie.
    pub fn of(state: &AppState, jar: &CookieJar, posted: &Posted) -> Self {
        let stamp = Stamp { actor: Actor::Visitor, ..posted.stamp() };
        let mut hasher = Sha256::new();
        hasher.update(*state.pepper);
        hasher.update(posted.form_id().as_uuid().as_bytes());
        hasher.update(stamp.route.as_bytes());
        let token = URL_SAFE_NO_PAD.encode(hasher.finalize());
        let previous = cookies::token_hash(jar).filter(|hash| *hash != secrets::token_hash(&token));
        Self { token, previous, shared: !posted.ticked("own"), at: posted.at(), stamp }
    }

    /// The stamp to write under. Whoever sat here before, the sender is a visitor.
    pub fn stamp(&self) -> Stamp {
        self.stamp.clone()
    }

    /// How the token is kept.
    pub fn token_hash(&self) -> [u8; 32] {
        secrets::token_hash(&self.token)
    }

    /// Stores the sign-in and ends the one this browser had before.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn store(&self, tx: &mut SqliteConnection, who: Who) -> Result<(), Error> {
        if let Some(previous) = &self.previous {
            sign_ins::end(tx, previous, self.at).await?;
        }
        let (account, student) = match who {
            Who::Staff(id) => (Some(id), None),
            Who::Student(id) => (None, Some(id)),
        };
        sign_ins::insert(tx, &self.token_hash(), account, student, self.shared, self.at).await
    }

    /// Goes on to `landing` with the new cookie.
    pub fn go_on(self, state: &AppState, jar: CookieJar, landing: &str) -> Response {
        if let Some(previous) = &self.previous {
            state.shown.clear(previous);
        }
        (jar.add(cookies::sign_in(self.token, &state.reach)), see_other(landing)).into_response()
    }
}

/// The page asked for before signing in, if it is one that this person can open.
pub fn asked_for(posted: &Posted, home: &'static str) -> String {
    let then = posted.get("then");
    let below = then.strip_prefix(home).is_some_and(|rest| rest.is_empty() || rest.starts_with(['/', '?']));
    if below && is_local(then) { then.to_owned() } else { home.to_owned() }
}
