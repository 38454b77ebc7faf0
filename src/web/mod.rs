//! The web face: handlers parse, call, render.

pub mod bench;
pub mod door;
pub mod every_route;
pub mod fields;
pub mod front;
pub mod kit;
pub mod request;
pub mod sheets;

use jiff::tz::TimeZone;

use crate::domain::{exposure::sun_found::Whereabouts, instant::Instant, site::Site};

/// Where the site is, at a moment: what the height of the sun needs.
pub fn site_whereabouts(site: Option<&Site>, at: Instant) -> Whereabouts {
    Whereabouts { place: site.and_then(Site::on_earth), zone: site.map_or(TimeZone::UTC, |site| site.zone.clone()), at }
}
