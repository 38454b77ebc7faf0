//! `/bench/exposures`: how long to leave the shutter open, what was done, how it came out.

mod as_typed;
mod day_view;
mod desk;
mod film;
mod film_form;
mod pile;
mod put_right;
mod record;
mod scale_view;
mod sheet;
mod signs;
mod sources;
mod start_view;

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
        page("/bench/exposures/{id}/correct", Access::Bench, put_right::show_correction),
        change("/bench/exposures/{id}/correct", Access::Bench, put_right::save_correction),
        change("/bench/exposures/{id}/take-back", Access::Bench, put_right::take_back),
        change("/bench/exposures/{id}/count-again", Access::Bench, put_right::count_again),
        page("/bench/signs", Access::Bench, signs::show),
    ]
}
