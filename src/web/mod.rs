//! The web face: handlers parse, call, render.

pub mod access;
pub mod aim_fields;
pub mod assets;
pub mod bench;
pub mod caller;
pub mod card_pile;
pub mod cookies;
pub mod door;
pub mod error;
pub mod form;
pub mod frame;
pub mod front;
pub mod known_browser;
pub mod layers;
pub mod left_seats;
pub mod light_fields;
pub mod listen;
pub mod live;
pub mod metrics;
pub mod new_account;
pub mod own_figures;
pub mod page;
pub mod pictures;
pub mod posted;
pub mod reading;
pub mod result_fields;
pub mod routes;
pub mod seat_keys;
pub mod shown_forecasts;
pub mod shown_once;
pub mod slow_work;
pub mod slowdown;
pub mod state;
pub mod streams;
pub mod takes;
pub mod through_trays;

use jiff::tz::TimeZone;

use crate::domain::{instant::Instant, site::Site, sun_found::Whereabouts};

/// Where the site is, at a moment: what the height of the sun needs.
pub fn site_whereabouts(site: Option<&Site>, at: Instant) -> Whereabouts {
    Whereabouts { place: site.and_then(Site::on_earth), zone: site.map_or(TimeZone::UTC, |site| site.zone.clone()), at }
}
