//! Stories of the front bench.

mod accounts;
mod cards;
mod chemistry;
mod exports;
mod filled_cards;
mod floor;
mod marks;
mod roster;
mod rubrics;
mod sections;
mod sessions;
mod site;
mod stockroom;
mod suggested;
mod waste;
