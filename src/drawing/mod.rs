//! Drawings to scale, as SVG from values, and pictures as PNG. Each has a title and a description that say the same in
//! words; colours and strokes come from the style sheet's classes, since no inline style is allowed.

pub mod camera_outline;
pub mod camera_section;
pub mod day_chart;
pub mod fall_off_map;
pub mod forecast_made;
pub mod grey_png;
pub mod hole_plate;
pub mod level;
pub mod narrowing;
pub mod needle;
pub mod negative;
pub mod on_one_scale;
pub mod plate_section;
pub mod sharpness_curve;
pub mod spread;
pub mod stops_scale;
