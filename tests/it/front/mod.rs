//! Stories of the front bench.

mod marks;
mod roster;
mod rubrics;
mod sections;
mod site;
mod stockroom;
