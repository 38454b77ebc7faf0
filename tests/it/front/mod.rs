//! Stories of the front bench.

mod accounts;
mod marks;
mod roster;
mod rubrics;
mod sections;
mod sessions;
mod site;
mod stockroom;
