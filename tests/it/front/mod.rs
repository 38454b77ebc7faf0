//! Stories of the front bench.

mod rubrics;
mod site;
mod stockroom;
