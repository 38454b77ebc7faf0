//! What people do in a lab section: one file a use case. It takes ids and domain values and gives domain
//! values; pages and addresses are the web's.

pub mod baths;
pub mod camera;
pub mod evening;
pub mod exposure;
pub mod marking;
pub mod people;
pub mod waste;
