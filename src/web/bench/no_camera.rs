//! The page for somebody without a camera.

use askama::Template;

use crate::web::kit::frame::Frame;

/// The page for somebody without a camera.
#[derive(Template)]
#[template(path = "bench/no_camera.html")]
pub struct NoCamera {
    /// What surrounds it.
    pub frame: Frame,
    /// The page's heading.
    pub heading: &'static str,
}
