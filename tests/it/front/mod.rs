//! Stories of the front bench.

mod accounts;
mod cards;
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
