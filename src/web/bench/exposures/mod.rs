//! `/bench/exposures`: how long to leave the shutter open, what was done, how it came out; and
//! `/front/exposures/{id}`, where staff put right what was typed of a sheet.

mod correct;
mod desk;
mod record;
mod seen;
mod sheet;
mod start_view;

pub use record::{moment, note, read_developed};
pub use sheet::result_words;

use crate::web::{
    access::Access,
    routes::{Route, change, page},
};

/// The routes of these pages.
pub fn routes() -> Vec<Route> {
    vec![
        page("/bench/exposures", Access::Bench, desk::show),
        change("/bench/exposures", Access::Bench, record::record),
        page("/bench/exposures/{id}", Access::Bench, sheet::show),
        change("/bench/exposures/{id}/judge", Access::Bench, sheet::judge),
        change("/bench/exposures/{id}/trays", Access::Bench, sheet::through_the_trays),
        page("/bench/exposures/{id}/correct", Access::Bench, correct::show),
        change("/bench/exposures/{id}/correct", Access::Bench, correct::save),
        page("/front/exposures/{id}", Access::Staff, correct::show_to_staff),
        change("/front/exposures/{id}", Access::Staff, correct::save_by_staff),
    ]
}
