//! The front bench: the pages of instructor and assistant.

pub mod accounts;
pub mod asked;
mod attention;
mod book_words;
pub mod box_counts;
pub mod cards;
pub mod chemistry;
mod demonstration;
pub mod experience;
pub mod exports;
mod exposures;
pub mod filled_cards;
mod first_steps;
pub mod floor;
pub mod home;
pub mod keeping;
pub mod marks;
pub mod needs;
mod nothing_yet;
pub mod prep;
pub mod roster;
pub mod rubrics;
mod safekeeping;
pub mod sections;
pub mod sessions;
pub mod site;
mod site_example;
mod site_waste;
pub mod stockroom;
pub mod units;
mod vessel_acts;
pub mod waste;
use super::kit::routes::Route;

/// The routes of the front bench.
pub fn routes() -> Vec<Route> {
    let mut routes = Vec::new();
    routes.extend(accounts::routes());
    routes.extend(asked::routes());
    routes.extend(box_counts::routes());
    routes.extend(cards::routes());
    routes.extend(chemistry::routes());
    routes.extend(demonstration::routes());
    routes.extend(experience::routes());
    routes.extend(exports::routes());
    routes.extend(exposures::routes());
    routes.extend(filled_cards::routes());
    routes.extend(floor::routes());
    routes.extend(home::routes());
    routes.extend(keeping::routes());
    routes.extend(marks::routes());
    routes.extend(needs::routes());
    routes.extend(prep::routes());
    routes.extend(roster::routes());
    routes.extend(rubrics::routes());
    routes.extend(sections::routes());
    routes.extend(sessions::routes());
    routes.extend(site::routes());
    routes.extend(site_example::routes());
    routes.extend(site_waste::routes());
    routes.extend(stockroom::routes());
    routes.extend(units::routes());
    routes.extend(waste::routes());
    routes
}
