//! `/front/sessions/{id}/filled-cards`: a pile of cards that were filled in the dark, typed in
//! afterwards, one row a sheet, all of them or none.

mod camera;
mod page;
mod take;

use crate::web::{
    kit::{
        access::Access,
        routes::{Route, change, page},
    },
    request::takes::Takes,
};

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/sessions/{id}/filled-cards", Access::Staff, page::show),
        change("/front/sessions/{id}/filled-cards", Access::Staff, take::save).taking(Takes::PILE),
        page("/front/sessions/{id}/filled-cards/camera", Access::Staff, camera::show),
        change("/front/sessions/{id}/filled-cards/camera", Access::Staff, camera::register).taking(Takes::PILE),
    ]
}
