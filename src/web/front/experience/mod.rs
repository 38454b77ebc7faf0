//! What a paper's sheets have taught, and the pictures of a section's sheets.
//! `/front/stockroom/papers/{id}/experience`: the residuals, sheets left out, new boxes, “my usual
//! time”; `/front/sections/{id}/sheets`: forecast against made.

mod acts;
mod cameras;
mod page;
mod pictures;
mod section;
mod usual_time;
mod widths;

use crate::web::kit::{
    access::Access,
    routes::{Route, change, page},
};

/// The routes of these pages. Assistants look; an instructor decides what teaches.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/stockroom/papers/{id}/experience", Access::Staff, page::show),
        change("/front/stockroom/papers/{id}/leave-out", Access::Instructor, acts::leave_out),
        change("/front/stockroom/papers/{id}/count-again", Access::Instructor, acts::count_again),
        change("/front/stockroom/papers/{id}/boxes", Access::Instructor, acts::new_box),
        change("/front/stockroom/papers/{id}/boxes/take-back", Access::Instructor, acts::take_box_back),
        change("/front/stockroom/papers/{id}/usual-time", Access::Instructor, usual_time::save),
        page("/front/sections/{id}/sheets", Access::Staff, section::show),
    ]
}
