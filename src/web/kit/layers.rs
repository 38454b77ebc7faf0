//! What every request passes through: recognition, limits, protective headers, error pages.

use std::{sync::Arc, time::Duration};

use askama::Template;
use axum::{
    Router,
    extract::{MatchedPath, Request, State},
    http::{HeaderName, HeaderValue, StatusCode, header},
    middleware::{self, Next},
    response::{Html, IntoResponse, Redirect, Response},
};
use tower_http::{
    catch_panic::CatchPanicLayer,
    compression::{
        CompressionLayer,
        predicate::{DefaultPredicate, NotForContentType, Predicate},
    },
    csrf::CsrfLayer,
    set_header::SetResponseHeaderLayer,
    timeout::TimeoutLayer,
};

use tracing::Instrument;

use crate::web::kit::addresses::address_of;
use crate::{
    domain::{ids::FormId, instant::Instant},
    store::Trouble,
};

use super::{access, cookies, error::WebError, frame::Frame, state::AppState};

/// No page takes this long; a slow sender is let go.
const LONGEST_REQUEST: Duration = Duration::from_secs(30);

/// Nothing runs, loads or posts but what this server sent.
const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; \
     connect-src 'self'; font-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Puts the layers round the routes.
pub fn dress(router: Router<AppState>, state: AppState) -> Router {
    let mut csrf = CsrfLayer::new();
    if let Some(url) = &state.reach.public_url {
        csrf = match csrf.clone().add_trusted_origin(url) {
            Ok(csrf) => csrf,
            Err(error) => {
                tracing::warn!(%error, "the public URL is no origin; posts are checked against the Host header");
                csrf
            }
        };
    }
    let secure = state.reach.secure();
    let csrf = csrf.with_rejection_response(|_error| {
        WebError::Forbidden("the form came from another site; open the page here and send it again").into_response()
    });
    let fixed = |name: HeaderName, value: &'static str| {
        SetResponseHeaderLayer::if_not_present(name, HeaderValue::from_static(value))
    };
    let router = router
        .layer(csrf)
        .layer(middleware::from_fn_with_state(state.clone(), at_home))
        .layer(middleware::from_fn_with_state(state.clone(), error_pages))
        .layer(middleware::from_fn_with_state(state.clone(), access::recognise))
        .layer(middleware::from_fn_with_state(state.clone(), log_request))
        .layer(CatchPanicLayer::custom(|_: Box<dyn std::any::Any + Send>| {
            tracing::error!("a handler panicked");
            (StatusCode::INTERNAL_SERVER_ERROR, "Something broke here. What was saved before is safe.").into_response()
        }))
        .layer(TimeoutLayer::with_status_code(StatusCode::REQUEST_TIMEOUT, LONGEST_REQUEST))
        // a face is compressed in itself
        .layer(
            CompressionLayer::new().compress_when(DefaultPredicate::new().and(NotForContentType::const_new("font/"))),
        )
        .layer(fixed(header::CONTENT_SECURITY_POLICY, CONTENT_SECURITY_POLICY))
        .layer(fixed(header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .layer(fixed(header::REFERRER_POLICY, "same-origin"))
        .layer(fixed(header::X_FRAME_OPTIONS, "DENY"))
        .layer(fixed(HeaderName::from_static("cross-origin-opener-policy"), "same-origin"))
        // pages hold people's records: the next person at this computer must not find them
        .layer(fixed(header::CACHE_CONTROL, "no-store"));
    let router = if secure {
        router
            .layer(middleware::from_fn(cookies::prefixed))
            .layer(fixed(header::STRICT_TRANSPORT_SECURITY, "max-age=31536000"))
    } else {
        router
    };
    router.with_state(state)
}

/// One line a request: an id, method, path pattern, status, time. Never a name, and the pattern
/// rather than the path, since a path may hold a one-time token.
async fn log_request(State(state): State<AppState>, request: Request, next: Next) -> Response {
    let id: FormId = state.mint();
    let method = request.method().clone();
    let pattern = request.extensions().get::<MatchedPath>().map_or("(no such page)", MatchedPath::as_str).to_owned();
    let began = tokio::time::Instant::now();
    let span = tracing::info_span!("request", %id);
    let mut response = next.run(request).instrument(span.clone()).await;
    state.answers.note(response.status());
    let ms = u64::try_from(began.elapsed().as_millis()).unwrap_or(u64::MAX);
    span.in_scope(|| tracing::info!(%method, pattern, status = response.status().as_u16(), ms));
    if let Ok(value) = HeaderValue::from_str(&id.to_string()) {
        response.headers_mut().insert("x-request-id", value);
    }
    response
}

/// Middleware: under another name than the public address nothing is shown, and while the clock is far off nothing is
/// either: times are the backbone of every record. Whoever watches the server may ask under any name.
async fn at_home(State(state): State<AppState>, request: Request, next: Next) -> Result<Response, WebError> {
    if !clock_can_be_right(state.now()) {
        return Err(WebError::WrongClock);
    }
    let host = request.headers().get(header::HOST).and_then(|host| host.to_str().ok());
    let host = host.or(request.uri().authority().map(http::uri::Authority::as_str)).unwrap_or_default();
    if request.uri().path() != "/health" && !state.reach.is_ours(host) {
        return Err(WebError::OtherName(state.reach.public_url.clone().unwrap_or_default()));
    }
    Ok(next.run(request).await)
}

/// Whether a clock can be right: not before this program was written, nor a century after.
fn clock_can_be_right(now: Instant) -> bool {
    /// 1 January 2020, in microseconds since 1970.
    const EARLIEST: i64 = 1_577_836_800_000_000;
    /// 1 January 2120.
    const LATEST: i64 = 4_733_510_400_000_000;
    (EARLIEST..LATEST).contains(&now.as_micros())
}

/// Answers once the writer does, unless something is wrong with the file itself.
pub async fn health(State(state): State<AppState>) -> Response {
    // what SQLite says of a damaged file may quote it: that is for the log alone
    let words = match state.store.trouble() {
        Some(Trouble::Moved) => "the database file was moved or replaced; nothing is saved any more\n",
        Some(Trouble::Damaged(_)) => "the database file is damaged\n",
        None if state.store.writer_answers().await => return (StatusCode::OK, "well\n").into_response(),
        None => "the writer does not answer\n",
    };
    (StatusCode::SERVICE_UNAVAILABLE, words).into_response()
}

/// Says nothing: being asked is enough for [`access::recognise`] to note that the sign-in is in use.
/// A page sends it while somebody types, so that a long report is not cut off as idle.
pub async fn here() -> StatusCode {
    StatusCode::NO_CONTENT
}

/// For every path without a page.
pub async fn no_such_page() -> WebError {
    WebError::NotFound("this page")
}

/// An error as a page.
#[derive(Template)]
#[template(path = "error.html")]
struct ErrorPage {
    frame: Frame,
    heading: String,
    words: String,
    messages: Vec<String>,
    way_out: String,
    way_out_words: String,
    typed: Vec<(String, String)>,
    fields: Vec<(String, String, String)>,
}

/// Middleware: an error becomes a page that says what happened and what to do next.
async fn error_pages(State(state): State<AppState>, request: Request, next: Next) -> Response {
    let (parts, body) = request.into_parts();
    let frame = Frame::of(&parts, &state);
    let here = parts.uri.path_and_query().map(|here| here.as_str().to_owned()).unwrap_or_default();
    let response = next.run(Request::from_parts(parts, body)).await;
    let Some(error) = response.extensions().get::<Arc<WebError>>().cloned() else {
        return match response.status() {
            // axum's own plain answers: a path parameter that is no id, a wrong method, a huge body
            StatusCode::BAD_REQUEST => dressed(frame, &WebError::NotFound("this page")),
            StatusCode::METHOD_NOT_ALLOWED => dressed(frame, &WebError::NotFound("this page")),
            StatusCode::PAYLOAD_TOO_LARGE => dressed(frame, &WebError::TooLarge),
            _ => response,
        };
    };
    if let WebError::SignedOut { reading: true } = *error {
        let then: String = form_urlencoded::byte_serialize(here.as_bytes()).collect();
        return Redirect::to(&format!("/?then={then}")).into_response();
    }
    match &*error {
        WebError::Ours(reason)
        | WebError::NotStored { reason, .. }
        | WebError::NotRead(reason)
        | WebError::Constraint(reason) => {
            tracing::error!(reason, "a request failed");
        }
        WebError::Trouble { trouble, .. } => {
            tracing::error!(%trouble, "a request failed");
            if let Trouble::Damaged(what) = trouble {
                state.store.note_damage(what);
            }
        }
        _ => {}
    }
    dressed(frame, &error)
}

fn dressed(frame: Frame, error: &WebError) -> Response {
    let home = if frame.at_bench() {
        ("/bench", "Go to your bench")
    } else if frame.at_front() {
        ("/front", "Go to the front bench")
    } else {
        ("/", "Go to the door")
    };
    let mut page = ErrorPage {
        frame,
        heading: String::new(),
        words: String::new(),
        messages: Vec::new(),
        way_out: home.0.to_owned(),
        way_out_words: home.1.to_owned(),
        typed: Vec::new(),
        fields: Vec::new(),
    };
    let (heading, words) = match error {
        WebError::NotFound(what) => {
            ("Not here", format!("There is no sign of {what}. It may have been moved, or the address mistyped."))
        }
        WebError::SignedOut { .. } => (
            "Signed out",
            "You were signed out before this was sent, so nothing was saved. Sign in again in another tab, then come back here and send it once more."
                .to_owned(),
        ),
        WebError::NotForStudents => ("For staff", "This page belongs to the front bench.".to_owned()),
        WebError::NotForStaff => ("A student's page", "This page belongs to a student at the bench.".to_owned()),
        WebError::InstructorsOnly => ("For instructors", "An instructor can do this; ask one.".to_owned()),
        WebError::Forbidden(why) => ("Not allowed", format!("Nothing was changed: {why}.")),
        WebError::Refused(errors) => {
            page.messages = errors.iter().map(|(_, message)| message.to_owned()).collect();
            ("Not saved", "Go back: your browser still has what you typed.".to_owned())
        }
        WebError::Stale(stale) => {
            page.fields.clone_from(&stale.fields);
            page.way_out = address_of(&stale.path);
            page.way_out_words = "Open it as it is now".to_owned();
            (
                "Changed in the meantime",
                format!("Somebody saved {} after you opened it. Nothing of yours was saved; both versions are below.", stale.what),
            )
        }
        WebError::SentBefore { landing, typed } => {
            page.typed.clone_from(typed);
            page.way_out.clone_from(landing);
            page.way_out_words = "Open the saved record".to_owned();
            (
                "Already saved once",
                "This form was sent and saved before, with other content. Nothing was changed now. Open the saved record to change it; what you typed this time is below."
                    .to_owned(),
            )
        }
        WebError::Constraint(_) => (
            "Not saved",
            "This does not fit with what is already stored; perhaps somebody saved the same thing a moment ago. Nothing was changed.".to_owned(),
        ),
        WebError::NotStored { typed, .. } => {
            page.typed.clone_from(typed);
            (
                "Could not be saved",
                "The server's disk did not take it: it may be full or read-only. Nothing was saved; what was saved before is safe. Tell the instructor, keep your card, and try again."
                    .to_owned(),
            )
        }
        WebError::TooFast(seconds) => (
            "One moment",
            format!("There were several wrong tries. Wait {seconds} s and try again."),
        ),
        WebError::Busy => (
            "Busy for a moment",
            "The server is at work for others, and many wait already. Nothing was changed. Open the page again in a few seconds, or send the form once more."
                .to_owned(),
        ),
        WebError::OtherName(address) => {
            page.way_out.clone_from(address);
            page.way_out_words = format!("Open {address}");
            ("Under another name", format!("This lab's pages are at {address} and nowhere else."))
        }
        WebError::WrongClock => (
            "The server's clock is wrong",
            "The clock of the machine that serves these pages is years off, and every record needs its time. Nothing is shown or saved until somebody sets it right; what was saved before is safe. Tell the instructor."
                .to_owned(),
        ),
        WebError::NotRead(_) => (
            "Could not be read",
            "The server could not read its file just now. What was saved before is safe; a form that you were sending was not saved, and your browser still has it when you go back. Try again in a moment, and tell the instructor if it stays like this."
                .to_owned(),
        ),
        WebError::Trouble { trouble, typed } => {
            page.typed.clone_from(typed);
            in_trouble(trouble)
        }
        WebError::TooLarge => ("Too much", "This is more than one form can hold. Send it in parts.".to_owned()),
        WebError::NotAForm | WebError::BrokenForm => ("Not a form", "What arrived could not be read. Open the page again and send it once more.".to_owned()),
        WebError::Ours(_) => (
            "Something broke here",
            "This is not your mistake, and it was written down for whoever looks after the server. What was saved before is safe.".to_owned(),
        ),
    };
    page.heading = heading.to_owned();
    page.words = words;
    let status = error.status();
    let mut response = match page.render() {
        Ok(html) => (status, Html(html)).into_response(),
        Err(_) => (status, "Something broke here.").into_response(),
    };
    if let Some(seconds) = error.again_in() {
        response.headers_mut().insert(header::RETRY_AFTER, seconds.into());
    }
    response
}

/// What is wrong with the database file, and what to do.
fn in_trouble(trouble: &Trouble) -> (&'static str, String) {
    match trouble {
        Trouble::Moved => (
            "Nothing can be saved",
            "The database file was moved or replaced while the server ran, so nothing is saved any more. What was saved before can still be read, and the server's log says where a copy of it stands. Tell the instructor and keep your card. Whoever looks after the server moves the file back, or stops the server, puts the copy in place with “shimlight restore” and starts it again."
                .to_owned(),
        ),
        Trouble::Damaged(_) => (
            "The file is damaged",
            "What stands on the server's disk for this page is not what was saved there: the disk or the file is damaged. Nothing was changed. Tell the instructor. Whoever looks after the server stops it, lets “shimlight check” say what is damaged, and puts the newest good backup in place with “shimlight restore”."
                .to_owned(),
        ),
    }
}
