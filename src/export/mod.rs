//! CSV files (RFC 4180) from stored values: the same bytes from a page and from `shimlight export`.
//!
//! Every file is built as a [`table::Table`] of typed [`cell::Cell`]s, so that what is text is
//! guarded against being run as a formula, and what is a number stays one.

pub mod cell;
pub mod table;

pub use cell::Cell;
pub use table::Table;
