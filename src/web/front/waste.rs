//! See the design, section 6.

use crate::web::routes::Route;

/// The routes of this page.
pub fn routes() -> Vec<Route> {
    Vec::new()
}
