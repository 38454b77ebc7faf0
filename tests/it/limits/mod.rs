//! What nobody may use up: fields, tries, streams, pictures.

mod busy;
mod fields;
mod reach;
mod streams;
mod uploads;
