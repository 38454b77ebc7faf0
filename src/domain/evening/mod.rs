//! A session and its evening: where everybody stands, what comes next, what it needs.

pub mod announcement;
pub mod help_call;
pub mod lab_session;
pub mod next_step;
pub mod preparation;
pub mod sheet_way;
pub mod timetable;
