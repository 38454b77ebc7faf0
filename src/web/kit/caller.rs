//! The address a request came from: only for slowing guesses, never stored.

use std::net::{IpAddr, Ipv6Addr, SocketAddr};

use axum::{
    extract::{ConnectInfo, FromRequestParts},
    http::request::Parts,
};

use super::{error::WebError, state::AppState};

/// Where a request came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caller(Option<IpAddr>);

impl Caller {
    /// What wrong tries from there are counted under. One household's or lab's IPv6 addresses
    /// share their first half, so they count as one.
    pub fn key(self) -> String {
        match self.0 {
            None => "unknown".to_owned(),
            Some(IpAddr::V4(address)) => address.to_string(),
            Some(IpAddr::V6(address)) => {
                let [a, b, c, d, ..] = address.segments();
                Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0).to_string()
            }
        }
    }
}

impl FromRequestParts<AppState> for Caller {
    type Rejection = WebError;
    async fn from_request_parts(parts: &mut Parts, _: &AppState) -> Result<Self, WebError> {
        // behind a trusted proxy `listen` has already put the forwarded address there
        Ok(Self(parts.extensions.get::<ConnectInfo<SocketAddr>>().map(|info| info.0.ip())))
    }
}
