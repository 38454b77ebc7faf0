//! The cookies we set: one for the sign-in, one for the theme, and marks of browsers in which somebody signed in before.

use axum::{
    extract::Request,
    http::{HeaderValue, header},
    middleware::Next,
    response::Response,
};
use axum_extra::extract::cookie::{Cookie, CookieJar, SameSite};

use crate::secrets;

use super::reach::Reach;

/// Holds the sign-in's token.
pub const SIGN_IN: &str = "shimlight_seat";
/// Holds `dim` when the dim theme is chosen.
pub const THEME: &str = "shimlight_theme";

/// Says that somebody had a seat in this browser before.
pub const KNOWN_FOR_SEAT: &str = "shimlight_sat_here";
/// Says that an account was used in this browser before.
pub const KNOWN_FOR_STAFF: &str = "shimlight_came_here";
/// How long a browser stays known, in days: a course, and some.
const KNOWN_DAYS: i64 = 200;

/// All of them.
const ALL: [&str; 4] = [SIGN_IN, THEME, KNOWN_FOR_SEAT, KNOWN_FOR_STAFF];
/// What browsers let nobody set but this very host, over TLS, for all its paths (RFC 6265bis, section 4.1.3.2).
const HOST_PREFIX: &str = "__Host-";

/// A mark of this browser. Unlike the sign-in it stays when the browser is closed; it opens nothing and names nobody.
pub fn known(name: &'static str, value: &str, reach: &Reach) -> Cookie<'static> {
    let mut cookie = base(name, value.to_owned(), reach);
    // the attribute is written as text: its type would cost a dependency
    let dated = Cookie::parse(format!("{name}=; Max-Age={}", KNOWN_DAYS * 24 * 3_600));
    cookie.set_max_age(dated.ok().and_then(|dated| dated.max_age()));
    cookie
}

/// Middleware behind TLS: on the wire our cookies carry a prefix, with which no neighbour under the same domain and nobody
/// on the way can plant one; within, they have their plain names, and plain ones from outside are no cookies of ours.
pub async fn prefixed(mut request: Request, next: Next) -> Response {
    let sent: Vec<String> =
        request.headers().get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok()).map(within).collect();
    request.headers_mut().remove(header::COOKIE);
    let sent: Vec<String> = sent.into_iter().filter(|pairs| !pairs.is_empty()).collect();
    if let Ok(value) = HeaderValue::from_str(&sent.join("; "))
        && !sent.is_empty()
    {
        request.headers_mut().insert(header::COOKIE, value);
    }
    let mut response = next.run(request).await;
    if let header::Entry::Occupied(mut set) = response.headers_mut().entry(header::SET_COOKIE) {
        for value in set.iter_mut() {
            if let Some(prefixed) = value.to_str().ok().and_then(on_the_wire) {
                *value = prefixed;
            }
        }
    }
    response
}

/// The cookies of a request as the handlers know them.
fn within(sent: &str) -> String {
    let ours = |pair: &str| ALL.iter().any(|name| pair.split('=').next() == Some(*name));
    let pairs = sent.split(';').map(str::trim).filter(|pair| !ours(pair));
    pairs
        .map(|pair| pair.strip_prefix(HOST_PREFIX).filter(|rest| ours(rest)).unwrap_or(pair))
        .collect::<Vec<_>>()
        .join("; ")
}

fn on_the_wire(set: &str) -> Option<HeaderValue> {
    HeaderValue::from_str(&format!("{HOST_PREFIX}{set}")).ok()
}

/// A sign-in cookie. It lasts as long as the browser is open; the server ends it sooner when idle.
pub fn sign_in(token: String, reach: &Reach) -> Cookie<'static> {
    base(SIGN_IN, token, reach)
}

/// The theme cookie, as long as the browser is open.
pub fn theme(dim: bool, reach: &Reach) -> Cookie<'static> {
    base(THEME, if dim { "dim" } else { "light" }.to_owned(), reach)
}

/// How the sign-in of this browser is kept, whether it still stands or not.
pub fn token_hash(jar: &CookieJar) -> Option<[u8; 32]> {
    jar.get(SIGN_IN).map(|cookie| secrets::token_hash(cookie.value()))
}

/// Takes the sign-in cookie away.
pub fn without_sign_in(jar: CookieJar, reach: &Reach) -> CookieJar {
    jar.remove(base(SIGN_IN, String::new(), reach))
}

/// Takes away what somebody leaves on a computer: the sign-in, and the theme they chose. Whoever comes next begins
/// with a light page.
pub fn forgotten(jar: CookieJar, reach: &Reach) -> CookieJar {
    without_sign_in(jar, reach).remove(base(THEME, String::new(), reach))
}

fn base(name: &'static str, value: String, reach: &Reach) -> Cookie<'static> {
    Cookie::build((name, value)).path("/").http_only(true).same_site(SameSite::Lax).secure(reach.secure()).build()
}
