//! Exposures: one sheet in one camera.

mod found;
mod row;
mod written;

pub use found::{
    find, find_of_student, list_of_camera_on, list_of_paper, list_of_section, list_of_session, list_of_student,
    list_teaching,
};
pub use written::{insert, next_number, update, update_place, update_taken_back};
