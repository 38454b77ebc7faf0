//! What all benches of a session are told: "lights on in two minutes".

use crate::domain::{ids::AnnouncementId, instant::Instant};

/// What all benches are told now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Announcement {
    /// Its id.
    pub id: AnnouncementId,
    /// The words.
    pub words: String,
    /// When it was said.
    pub said: Instant,
}
