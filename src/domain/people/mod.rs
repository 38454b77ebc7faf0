//! Who is there: students, staff, sections, and how they come in.

pub mod actor;
pub mod door_code;
pub mod family_name;
pub mod roster;
mod roster_columns;
pub mod roster_effect;
pub mod roster_order;
mod roster_table;
pub mod seat_key;
pub mod section;
pub mod student;
