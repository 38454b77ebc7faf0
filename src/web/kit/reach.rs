//! How the server is reached.

use std::net::IpAddr;

/// How the server is reached, as told on the command line.
#[derive(Clone, Debug, Default)]
pub struct Reach {
    /// The address people type, e.g. `https://lab.example`; decides links, the Secure flag and the
    /// allowed origin. Without it the Host header is used.
    pub public_url: Option<String>,
    /// Whether `X-Forwarded-For` is believed (only behind a proxy of one's own).
    pub trusted_proxy: bool,
}

impl Reach {
    /// A path of ours as an address to be passed on: under the public URL, or else as this request
    /// reached us.
    pub fn address(&self, headers: &http::HeaderMap, path: &str) -> String {
        let base = self.public_url.as_deref().map(|url| url.trim_end_matches('/').to_owned());
        let host = || headers.get(http::header::HOST).and_then(|host| host.to_str().ok()).unwrap_or("localhost");
        format!("{}{path}", base.unwrap_or_else(|| format!("http://{}", host())))
    }

    /// Whether `host`, as a request names it, is the public address, a bare number or this machine's own name; any, while
    /// there is no public address. A *name* that leads here without being ours is how another site's page would reach into
    /// a lab's network; a number cannot be made to lead elsewhere.
    pub fn is_ours(&self, host: &str) -> bool {
        let Some(authority) = self.public_url.as_deref().and_then(|url| url.split_once("://")) else { return true };
        let (scheme, public) = (authority.0, authority.1.trim_end_matches('/'));
        let usual = if scheme == "https" { ":443" } else { ":80" };
        let plain = |name: &str| name.strip_suffix(usual).unwrap_or(name).to_ascii_lowercase();
        let name = match host.rsplit_once(':') {
            Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => name,
            _ => host,
        };
        let number = name.trim_start_matches('[').trim_end_matches(']');
        plain(host) == plain(public) || name.eq_ignore_ascii_case("localhost") || number.parse::<IpAddr>().is_ok()
    }

    /// Whether cookies may only travel over TLS.
    pub fn secure(&self) -> bool {
        self.public_url.as_deref().is_some_and(|url| url.starts_with("https://"))
    }
}
