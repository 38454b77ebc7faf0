//! The stockroom.

pub mod paper_boxes;
pub mod paper_sizes;
pub mod papers;
pub mod products;
pub mod sheet_counts;
pub mod trays;
