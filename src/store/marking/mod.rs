//! Marks, and what they rest on.

pub mod marks;
pub mod own_figures;
pub mod report_pictures;
pub mod reports;
pub mod rubrics;
pub mod seen;
pub mod stock_phrases;
