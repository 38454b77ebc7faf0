//! Lab sessions and what happens in one.

pub mod announcements;
pub mod help_calls;
pub mod lab_sessions;
pub mod sheet_ways;
