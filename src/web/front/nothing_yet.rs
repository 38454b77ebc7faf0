//! The page while an instructor has not set up what it needs.

use askama::Template;

use crate::web::kit::frame::Frame;

use super::first_steps::FirstSteps;

/// What an assistant sees while an instructor has not set up what the page needs.
#[derive(Template)]
#[template(path = "front/nothing_yet.html")]
pub(super) struct NothingYet {
    pub frame: Frame,
    pub first_steps: FirstSteps,
}
