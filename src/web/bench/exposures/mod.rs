//! `/bench/exposures`: how long to leave the shutter open, what was done, how it came out; and
//! `/front/exposures/{id}`, where staff put right what was typed of a sheet.

mod as_typed;
mod correct;
mod day_view;
mod desk;
mod film;
mod pile;
mod record;
mod scale_view;
mod seen;
mod sheet;
mod signs;
mod sources;
mod start_view;
mod take_back;

pub use film::{film_choices, offered_film};
pub use record::{Against, SHOWS_NOTHING_YET, moment, note, noting, read as read_sheet, read_developed};
pub use seen::waits_for_trays;
pub use sheet::{Look, looks, result_words};
pub use start_view::sentences;

use crate::web::{
    kit::{
        access::Access,
        routes::{Route, change, page},
    },
    request::takes::Takes,
};

/// The routes of these pages.
pub fn routes() -> Vec<Route> {
    vec![
        page("/bench/exposures", Access::Bench, desk::show),
        change("/bench/exposures", Access::Bench, record::record),
        page("/bench/exposures/as-typed", Access::Bench, as_typed::show),
        page("/bench/exposures/pile", Access::Bench, pile::show),
        change("/bench/exposures/pile", Access::Bench, pile::save).taking(Takes::PILE),
        change("/bench/exposures/film", Access::Bench, film::put_in),
        page("/bench/exposures/{id}", Access::Bench, sheet::show),
        change("/bench/exposures/{id}/judge", Access::Bench, sheet::judge),
        change("/bench/exposures/{id}/trays", Access::Bench, sheet::through_the_trays),
        page("/bench/exposures/{id}/correct", Access::Bench, correct::show),
        change("/bench/exposures/{id}/correct", Access::Bench, correct::save),
        change("/bench/exposures/{id}/take-back", Access::Bench, take_back::take_back),
        change("/bench/exposures/{id}/count-again", Access::Bench, take_back::count_again),
        page("/bench/signs", Access::Bench, signs::show),
        change("/front/exposures/{id}/take-back", Access::Staff, take_back::take_back_by_staff),
        change("/front/exposures/{id}/count-again", Access::Staff, take_back::count_again_by_staff),
        page("/front/exposures/{id}", Access::Staff, correct::show_to_staff),
        change("/front/exposures/{id}", Access::Staff, correct::save_by_staff),
    ]
}
