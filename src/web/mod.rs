//! The web face: handlers parse, call, render.

pub mod access;
pub mod assets;
pub mod bench;
pub mod caller;
pub mod cookies;
pub mod door;
pub mod error;
pub mod form;
pub mod frame;
pub mod front;
pub mod layers;
pub mod light_fields;
pub mod listen;
pub mod live;
pub mod metrics;
pub mod new_account;
pub mod page;
pub mod posted;
pub mod reading;
pub mod result_fields;
pub mod routes;
pub mod seat_keys;
pub mod shown_once;
pub mod slowdown;
pub mod state;
pub mod through_trays;
