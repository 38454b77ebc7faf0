//! What a camera makes of a scene: a test figure seen through its transfer function.
//!
//! The film adds up light, so the image is the scene's own image by straight rays, with each spatial
//! frequency multiplied by the signed transfer function on the axis. All lengths are those on the film
//! (and on a contact print, which is as large).

mod figure;
mod rendering;

pub use figure::{TestFigure, WIDEST_MM};
pub use rendering::{Grey, PIXELS_PER_MM, through};
