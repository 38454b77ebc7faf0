//! Shimlight: the server of a hands-on pinhole-camera lab section.
//!
//! Dependencies run one way: `calc <- domain <- store, export <- web, cli`.

pub mod calc;
