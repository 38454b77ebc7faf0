//! Stories of the front bench.

mod site;
