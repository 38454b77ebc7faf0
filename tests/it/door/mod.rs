//! Stories of the door.

mod cross_site;
mod joining;
mod leaving;
mod one_time_links;
mod seat_keys;
mod slowing;
mod staff;
mod words;
