//! The door: joining, signing in, leaving.

mod beginning;
mod first;
mod join;
mod key;
mod leaving;
mod seat;
mod sheet;
mod staff;
pub mod theme;
mod units;
pub mod words;

use super::kit::{
    access::Access,
    layers,
    routes::{Route, change, page},
};

/// The routes of the door.
pub fn routes() -> Vec<Route> {
    vec![
        page("/", Access::Open, sheet::show),
        // reloading a refused form leads to a fresh sheet instead of nowhere
        page("/door", Access::Open, sheet::back),
        change("/door", Access::Open, join::join),
        page("/seat", Access::Open, sheet::back),
        change("/seat", Access::Open, seat::come_back),
        page("/staff", Access::Open, sheet::back),
        change("/staff", Access::Open, staff::sign_in),
        change("/leave", Access::Open, leaving::leave),
        page("/left", Access::Open, leaving::left),
        page("/words", Access::Open, words::show),
        page("/here", Access::Open, layers::here),
        change("/theme", Access::Open, theme::choose),
        page("/first/{token}", Access::Open, first::show),
        change("/first/{token}", Access::Open, first::create),
        page("/new-password/{token}", Access::Open, first::show_new_password),
        change("/new-password/{token}", Access::Open, first::set_password),
        page("/bench/key", Access::Bench, key::show),
        change("/bench/key", Access::Bench, key::renew),
        change("/bench/key/kept", Access::Bench, key::kept),
        change("/bench/units", Access::Bench, units::choose),
    ]
}
