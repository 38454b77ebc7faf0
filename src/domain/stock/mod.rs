//! What stands in the stockroom: papers and films, chemical products, trays.

pub mod colours_seen;
pub mod film_light;
pub mod paper;
pub mod product;
pub mod reciprocity_lines;
pub mod sheet;
pub mod sheet_count;
pub mod shelf;
pub mod tray;
pub mod usual_stock;
