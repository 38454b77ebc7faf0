//! Our nouns and their rules. Knows `calc`; knows nothing of SQL, HTTP or the machine.

pub mod actor;
pub mod camera;
pub mod field_errors;
pub mod hole;
pub mod ids;
pub mod instant;
pub mod lab_session;
pub mod length;
pub mod paper;
pub mod product;
pub mod section;
pub mod site;
pub mod site_rule;
pub mod student;
