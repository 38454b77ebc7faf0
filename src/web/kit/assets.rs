//! Style sheets, script, faces and icons, embedded; each address carries its content's hash, so that
//! a browser may keep it for ever.

use std::{borrow::Cow, collections::HashMap, sync::LazyLock};

use axum::{
    body::Body,
    extract::Path,
    http::{HeaderValue, header},
    response::Response,
};
use rust_embed::Embed;
use sha2::{Digest, Sha256};

use super::error::WebError;

#[derive(Embed)]
#[folder = "static/"]
struct Files;

/// A file as it is sent.
struct Sent {
    bytes: Cow<'static, [u8]>,
    address: String,
}

/// Every file by its name. A style sheet names a face as `url("faces/….woff2")`, as it lies beside it; what is
/// sent has its address instead, so that another face gives the style sheet another address too.
static SENT: LazyLock<HashMap<Cow<'static, str>, Sent>> = LazyLock::new(|| {
    let (sheets, others): (Vec<_>, Vec<_>) = Files::iter().partition(|name| name.ends_with(".css"));
    let mut sent = HashMap::new();
    for name in others {
        let bytes = Files::get(&name).map(|file| file.data).unwrap_or_default();
        sent.insert(name.clone(), Sent { address: hashed(&name, &bytes), bytes });
    }
    for name in sheets {
        let file = Files::get(&name).map(|file| file.data).unwrap_or_default();
        let mut words = String::from_utf8_lossy(&file).into_owned();
        for (other, file) in &sent {
            words = words.replace(&format!("url(\"{other}\")"), &format!("url(\"{}\")", file.address));
        }
        let bytes = words.into_bytes();
        sent.insert(name.clone(), Sent { address: hashed(&name, &bytes), bytes: bytes.into() });
    }
    sent
});

fn hashed(name: &str, bytes: &[u8]) -> String {
    let hash: String = Sha256::digest(bytes)[..6].iter().map(|byte| format!("{byte:02x}")).collect();
    format!("/static/{hash}/{name}")
}

/// The address of a static file: `/static/4f3a9c1e5b27/shimlight.css`.
pub fn address(name: &str) -> String {
    SENT.get(name).map_or_else(|| format!("/static/missing/{name}"), |file| file.address.clone())
}

/// Serves a static file.
///
/// # Errors
/// 404 when there is none of that name.
pub async fn show(Path((_hash, name)): Path<(String, String)>) -> Result<Response, WebError> {
    let file = SENT.get(name.as_str()).ok_or(WebError::NotFound("this file"))?;
    let kind = match name.rsplit('.').next() {
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("svg") => "image/svg+xml",
        Some("txt") => "text/plain; charset=utf-8",
        Some("woff2") => "font/woff2",
        _ => "application/octet-stream",
    };
    let mut response = Response::new(Body::from(file.bytes.clone()));
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    response
        .headers_mut()
        .insert(header::CACHE_CONTROL, HeaderValue::from_static("public, max-age=31536000, immutable"));
    Ok(response)
}
