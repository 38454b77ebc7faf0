//! Who may come in: each route names it, and handlers take the proof as an argument.

use axum::{
    extract::{FromRequestParts, Request, State},
    http::{Uri, request::Parts},
    middleware::Next,
    response::Response,
};
use axum_extra::extract::CookieJar;

use crate::{
    domain::{
        ids::{AccountId, LabSessionId, SectionId, StudentId},
        marking::own_figure::HeldBack,
        people::actor::{Actor, Role},
    },
    secrets,
    store::{
        evening::lab_sessions,
        people::{
            keeping,
            sign_ins::{self, Person, SignIn},
        },
    },
};

use super::{cookies, error::WebError, state::AppState};
use crate::lab::{evening::session::session_for_students, marking::own_figures};

/// The query of a page that looks again by itself.
pub const BY_ITSELF: &str = "by-itself";

/// Who a route is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Anybody.
    Open,
    /// A student at the bench.
    Bench,
    /// Instructors and assistants.
    Staff,
    /// Instructors.
    Instructor,
}

impl Access {
    /// Whether this person may come in.
    pub fn admits(self, person: Option<&Person>) -> bool {
        match (self, person) {
            (Self::Open, _)
            | (Self::Staff, Some(Person::Staff { .. }))
            | (Self::Bench, Some(Person::Student { .. })) => true,
            (Self::Instructor, Some(Person::Staff { role, .. })) => *role == Role::Instructor,
            _ => false,
        }
    }
}

/// Who is behind a request: put there by [`recognise`].
#[derive(Clone, Debug, Default)]
pub enum Recognised {
    /// Nobody is signed in.
    #[default]
    Nobody,
    /// A live sign-in.
    As(SignIn),
    /// The database could not be asked: a page that needs a person must say so, not “signed out”.
    Unknown(std::sync::Arc<crate::store::Error>),
}

impl Recognised {
    /// The sign-in, if there is one.
    pub fn sign_in(&self) -> Option<&SignIn> {
        match self {
            Self::As(sign_in) => Some(sign_in),
            Self::Nobody | Self::Unknown(_) => None,
        }
    }

    /// The person, if signed in.
    pub fn person(&self) -> Option<&Person> {
        self.sign_in().map(|sign_in| &sign_in.person)
    }
}

/// Middleware: finds out who is asking, and keeps a used sign-in from going idle.
pub async fn recognise(State(state): State<AppState>, jar: CookieJar, mut request: Request, next: Next) -> Response {
    let recognised = match jar.get(cookies::SIGN_IN) {
        None => Recognised::Nobody,
        Some(cookie) => match look_up(&state, cookie.value(), somebody_asked(request.uri())).await {
            Ok(Some(sign_in)) => Recognised::As(sign_in),
            Ok(None) => Recognised::Nobody,
            Err(error) => Recognised::Unknown(std::sync::Arc::new(error)),
        },
    };
    if let Some(Person::Student { id, section, .. }) = recognised.person()
        && request.uri().path().starts_with("/bench")
    {
        match held_from(&state, *section, *id).await {
            Ok((held, archived)) => {
                request.extensions_mut().insert(held);
                request.extensions_mut().insert(archived);
            }
            // a page that cannot be asked what it may show will say so itself
            Err(error) => tracing::warn!(%error, "could not ask what is held back"),
        }
    }
    if let Some(Person::Staff { .. }) = recognised.person() {
        match kept_at(&state, request.uri().path()).await {
            Ok(archived) => {
                request.extensions_mut().insert(archived);
            }
            Err(error) => tracing::warn!(%error, "could not ask whether the section is archived"),
        }
    }
    request.extensions_mut().insert(recognised);
    next.run(request).await
}

/// The own figures held back from a student in the session they work in, and whether the section is
/// archived.
async fn held_from(
    state: &AppState,
    section: SectionId,
    student: StudentId,
) -> Result<(HeldBack, Archived), crate::store::Error> {
    let mut conn = state.store.read().await?;
    let session = session_for_students(&mut conn, section).await?;
    let archived = Archived(keeping::find(&mut conn, section).await?.words());
    Ok((own_figures::held_back(&mut conn, session.as_ref(), section, student).await?, archived))
}

/// Whether the section that a page of the front bench is about is archived.
async fn kept_at(state: &AppState, path: &str) -> Result<Archived, crate::store::Error> {
    let mut parts = path.strip_prefix("/front/").unwrap_or_default().split('/');
    let (of, id) = (parts.next().unwrap_or_default(), parts.next().unwrap_or_default());
    let section = match of {
        "sections" => id.parse::<SectionId>().ok(),
        "sessions" => match id.parse::<LabSessionId>() {
            Ok(id) => lab_sessions::find(&mut *state.store.read().await?, id).await?.map(|session| session.section),
            Err(_) => None,
        },
        _ => None,
    };
    let Some(section) = section else { return Ok(Archived::default()) };
    Ok(Archived(keeping::find(&mut *state.store.read().await?, section).await?.words()))
}

/// Whether the section of whoever asks, or which they ask about, is archived, so that nothing in it can be
/// changed: in words, empty while it is not.
#[derive(Clone, Copy, Debug, Default)]
pub struct Archived(pub &'static str);

/// Whether a person asked, rather than a page that looks again by itself or was left alone: only
/// the first keeps a sign-in from going idle.
fn somebody_asked(uri: &Uri) -> bool {
    uri.path() != "/left" && uri.query() != Some(BY_ITSELF)
}

async fn look_up(state: &AppState, token: &str, asked: bool) -> Result<Option<SignIn>, crate::store::Error> {
    let (hash, now) = (secrets::token_hash(token), state.now());
    if state.left.has(&hash) {
        return Ok(None);
    }
    let mut conn = state.store.read().await?;
    let found = sign_ins::find(&mut conn, &hash, now).await?;
    drop(conn);
    if let Some(sign_in) = &found
        && asked
        && now.micros_since(sign_in.seen_at) > 60_000_000
    {
        // not awaited: a page must not wait for the writer, and the worst loss is a minute of idling
        let (store, stamp) = (state.store.clone(), state.server_stamp());
        tokio::spawn(async move {
            let noted = store
                .write(stamp, move |tx| {
                    Box::pin(async move {
                        sign_ins::update_seen(tx, &hash, now).await?;
                        Ok(String::new())
                    })
                })
                .await;
            if let Err(error) = noted {
                tracing::warn!(%error, "could not note that a sign-in was used");
            }
        });
    }
    Ok(found)
}

/// Middleware of each route: lets in whom the route is for.
///
/// # Errors
/// When it is for somebody else.
pub async fn admit(access: Access, request: Request, next: Next) -> Result<Response, WebError> {
    let recognised = request.extensions().get::<Recognised>();
    let person = recognised.and_then(Recognised::person);
    if access.admits(person) {
        return Ok(next.run(request).await);
    }
    if let Some(Recognised::Unknown(error)) = recognised {
        return Err(WebError::unread(error));
    }
    Err(match person {
        None => WebError::SignedOut { reading: request.method().is_safe() },
        Some(Person::Student { .. }) => WebError::NotForStudents,
        Some(Person::Staff { .. }) if access == Access::Bench => WebError::NotForStaff,
        Some(Person::Staff { .. }) => WebError::InstructorsOnly,
    })
}

/// A student at the bench. As a handler's argument: the proof that one is asking.
#[derive(Clone, Debug)]
pub struct Bench {
    /// The student.
    pub student: StudentId,
    /// Their section.
    pub section: SectionId,
    /// How they are shown.
    pub name: String,
    /// Whether they work in inches.
    pub inches: bool,
}

impl Bench {
    /// Who acts.
    pub fn actor(&self) -> Actor {
        Actor::Student(self.student)
    }

    /// The unit the student types lengths in.
    pub fn unit(&self) -> crate::domain::measure::length::LengthUnit {
        if self.inches {
            crate::domain::measure::length::LengthUnit::Inch
        } else {
            crate::domain::measure::length::LengthUnit::Millimetre
        }
    }
}

/// An instructor or assistant. As a handler's argument: the proof that one is asking.
#[derive(Clone, Debug)]
pub struct Staff {
    /// The account.
    pub account: AccountId,
    /// What it may do.
    pub role: Role,
    /// How it is shown.
    pub name: String,
}

impl Staff {
    /// Who acts.
    pub fn actor(&self) -> Actor {
        Actor::Staff(self.account)
    }

    /// Whether this is an instructor.
    pub fn is_instructor(&self) -> bool {
        self.role == Role::Instructor
    }
}

impl<S: Sync> FromRequestParts<S> for Bench {
    type Rejection = WebError;
    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, WebError> {
        match person_of(parts) {
            Some(Person::Student { id, section, name, inches }) => {
                Ok(Self { student: *id, section: *section, name: name.clone(), inches: *inches })
            }
            Some(Person::Staff { .. }) => Err(WebError::NotForStaff),
            None => Err(WebError::SignedOut { reading: parts.method.is_safe() }),
        }
    }
}

impl<S: Sync> FromRequestParts<S> for Staff {
    type Rejection = WebError;
    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, WebError> {
        match person_of(parts) {
            Some(Person::Staff { id, role, name }) => Ok(Self { account: *id, role: *role, name: name.clone() }),
            Some(Person::Student { .. }) => Err(WebError::NotForStudents),
            None => Err(WebError::SignedOut { reading: parts.method.is_safe() }),
        }
    }
}

fn person_of(parts: &Parts) -> Option<&Person> {
    parts.extensions.get::<Recognised>().and_then(Recognised::person)
}
