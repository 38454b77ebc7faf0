//! The hole from a scan: what pixel counts and ellipses mean.

pub mod scan;
