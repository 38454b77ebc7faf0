//! A site: one teaching darkroom, its place and its own rules.

use jiff::tz::TimeZone;

use super::ids::SiteId;

/// A site. Texts that nobody entered are empty; a page then says “not entered: ask your safety office”.
#[derive(Clone, Debug, PartialEq)]
pub struct Site {
    /// Its id.
    pub id: SiteId,
    /// What it is called.
    pub name: String,
    /// Where it is, in words.
    pub place: String,
    /// Its time zone.
    pub zone: TimeZone,
    /// Whom to call about waste.
    pub disposal_contact: String,
    /// The title the site requires on waste labels.
    pub waste_title: String,
    /// The number to call when something goes wrong.
    pub emergency_line: String,
    /// The site's own limit for silver, micrograms per litre.
    pub silver_limit_ug_per_l: Option<i64>,
    /// Where that limit comes from.
    pub silver_limit_source: String,
    /// Counts edits.
    pub version: i64,
}
