//! Style sheet, script and icons, embedded; each address carries its content's hash, so that a
//! browser may keep it for ever.

use axum::{
    body::Body,
    extract::Path,
    http::{HeaderValue, header},
    response::Response,
};
use rust_embed::Embed;

use super::error::WebError;

#[derive(Embed)]
#[folder = "static/"]
struct Files;

/// The address of a static file: `/static/4f3a9c1e/shimlight.css`.
pub fn address(name: &str) -> String {
    match Files::get(name) {
        Some(file) => format!("/static/{}/{name}", short_hash(&file)),
        None => format!("/static/missing/{name}"),
    }
}

fn short_hash(file: &rust_embed::EmbeddedFile) -> String {
    file.metadata.sha256_hash()[..6].iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Serves a static file.
///
/// # Errors
/// 404 when there is none of that name.
pub async fn show(Path((_hash, name)): Path<(String, String)>) -> Result<Response, WebError> {
    let file = Files::get(&name).ok_or(WebError::NotFound("this file"))?;
    let kind = match name.rsplit('.').next() {
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("svg") => "image/svg+xml",
        _ => "application/octet-stream",
    };
    let mut response = Response::new(Body::from(file.data.into_owned()));
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(kind));
    response
        .headers_mut()
        .insert(header::CACHE_CONTROL, HeaderValue::from_static("public, max-age=31536000, immutable"));
    Ok(response)
}
