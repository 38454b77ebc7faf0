//! Marks, and what they follow from.

pub mod from_record;
pub mod mark;
pub mod own_figure;
pub mod own_question;
pub mod points;
pub mod report;
pub mod rubric;
