//! The cookies we set: one for the sign-in, one for the theme.

use axum_extra::extract::cookie::{Cookie, CookieJar, SameSite};

use crate::secrets;

use super::state::Reach;

/// Holds the sign-in's token.
pub const SIGN_IN: &str = "shimlight_seat";
/// Holds `dim` when the dim theme is chosen.
pub const THEME: &str = "shimlight_theme";

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
