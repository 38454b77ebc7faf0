//! Our nouns and their rules. Knows `calc`; knows nothing of SQL, HTTP or the machine.

pub mod baths;
pub mod book;
pub mod camera;
pub mod destination;
pub mod evening;
pub mod exposure;
pub mod field_errors;
pub mod ids;
pub mod instant;
pub mod marking;
pub mod measure;
pub mod people;
pub mod site;
pub mod stock;
pub mod waste;
