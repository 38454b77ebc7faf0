//! Own figures, what the record suggests, and marks.

pub mod cells;
pub mod giving_back;
pub mod own_answers;
pub mod own_figures;
pub mod plan;
pub mod suggested;
pub mod suggestions;
pub mod table;
