//! What every page and form is made with: frame, form, routes, errors, layers, streams.

pub mod access;
pub mod assets;
pub mod caller;
pub mod cookies;
pub mod error;
pub mod form;
pub mod frame;
pub mod known_browser;
pub mod layers;
pub mod left_seats;
pub mod listen;
pub mod live;
pub mod metrics;
pub mod page;
pub mod reading;
pub mod routes;
pub mod seat_keys;
pub mod shown_once;
pub mod slow_work;
pub mod slowdown;
pub mod state;
pub mod streams;
