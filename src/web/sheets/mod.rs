//! One sheet as it was typed, put right by whoever made it or by staff.

pub mod correct;
pub mod take_back;
