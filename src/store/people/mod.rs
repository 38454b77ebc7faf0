//! Who is there: students, staff, sections, and what becomes of them.

pub mod accounts;
pub mod change_log;
pub mod keeping;
pub mod names;
pub mod sections;
pub mod sign_ins;
pub mod students;
pub mod walk_ins;
