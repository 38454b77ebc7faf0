//! Pictures that people sent, as they are served.

use axum::{
    http::header,
    response::{IntoResponse, Response},
};

use crate::store::marking::report_pictures::PictureBytes;

/// A picture with headers that let nothing else be made of it.
pub fn served(picture: PictureBytes) -> Response {
    let headers = [
        (header::CONTENT_TYPE, picture.media_type),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff".to_owned()),
        (header::CONTENT_SECURITY_POLICY, "default-src 'none'; sandbox".to_owned()),
        (header::CONTENT_DISPOSITION, "inline".to_owned()),
        (header::CACHE_CONTROL, "no-store".to_owned()),
    ];
    (headers, picture.bytes).into_response()
}
