//! `/words`: the glossary.

use askama::Template;

use crate::web::kit::{
    frame::Frame,
    page::Page,
    words::{GROUPS, Group},
};

/// The glossary.
#[derive(Template)]
#[template(path = "door/words.html")]
pub struct Words {
    frame: Frame,
    groups: &'static [Group],
}

/// Shows it.
pub async fn show(frame: Frame) -> Page<Words> {
    Page::new(Words { frame, groups: GROUPS })
}
