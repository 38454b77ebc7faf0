//! Sheets: what a student has at hand for one, recording it, putting it right.

pub mod at_hand;
pub mod cards;
pub mod film;
pub mod moving;
pub mod putting_right;
pub mod recording;
pub mod seen;
pub mod told;
pub mod words;
