//! Our nouns and their rules. Knows `calc`; knows nothing of SQL, HTTP or the machine.

pub mod actor;
pub mod camera;
pub mod decimal;
pub mod exposure;
pub mod field_errors;
pub mod found_light;
pub mod hole;
pub mod ids;
pub mod instant;
pub mod lab_session;
pub mod length;
pub mod mark;
pub mod paper;
pub mod points;
pub mod print;
pub mod product;
pub mod report;
pub mod rubric;
pub mod section;
pub mod sheet;
pub mod site;
pub mod site_rule;
pub mod student;
pub mod typed_seconds;
pub mod verdict;
