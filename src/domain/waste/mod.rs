//! What is kept back instead of poured away: containers, deadlines, removals, statements.

pub mod container;
pub mod deadline;
pub mod discharge;
pub mod held;
pub mod look;
pub mod opening;
pub mod reading;
pub mod recovery;
pub mod removal;
pub mod scrap;
pub mod standing_volume;
pub mod taken_back;
pub mod year_statement;
