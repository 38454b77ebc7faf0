//! Stories of the front bench.

mod marks;
mod rubrics;
mod site;
mod stockroom;
