//! `/bench/prints`: contact prints from one's own negatives.

mod correct;
mod desk;
mod record;

use crate::web::kit::{
    access::Access,
    routes::{Route, change, page},
};

/// The routes of these pages.
pub fn routes() -> Vec<Route> {
    vec![
        page("/bench/prints", Access::Bench, desk::show),
        change("/bench/prints", Access::Bench, record::record),
        page("/bench/prints/{id}", Access::Bench, correct::show),
        change("/bench/prints/{id}", Access::Bench, correct::save),
    ]
}
