//! A student's pages.

pub mod as_typed;
pub mod at_bench;
pub mod camera;
pub mod evening;
pub mod evening_acts;
pub mod exposures;
pub mod hole;
pub mod home;
pub mod marks;
mod no_camera;
pub mod optics;
pub mod own_figures;
pub mod prints;
pub mod report;
pub mod timer;
mod tools;
mod tray_times;
pub mod trays;
use super::kit::routes::Route;

/// The routes of the bench.
pub fn routes() -> Vec<Route> {
    let mut routes = Vec::new();
    routes.extend(as_typed::routes());
    routes.extend(camera::routes());
    routes.extend(evening::routes());
    routes.extend(evening_acts::routes());
    routes.extend(exposures::routes());
    routes.extend(hole::routes());
    routes.extend(home::routes());
    routes.extend(own_figures::routes());
    routes.extend(optics::routes());
    routes.extend(prints::routes());
    routes.extend(report::routes());
    routes.extend(timer::routes());
    routes.extend(trays::routes());
    routes.extend(marks::routes());
    routes
}
