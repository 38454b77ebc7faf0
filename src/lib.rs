//! Shimlight: the server of a hands-on pinhole-camera lab section.
//!
//! Dependencies run one way: `calc <- domain <- store, export, drawing, scans <- lab <- web, cli`.

pub mod calc;
pub mod cli;
pub mod clock;
pub mod domain;
pub mod drawing;
pub mod export;
pub mod lab;
pub mod scans;
pub mod secrets;
pub mod store;
pub mod web;
