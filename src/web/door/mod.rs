//! The door: joining, signing in, leaving.

use super::routes::Route;

/// The routes of the door.
pub fn routes() -> Vec<Route> {
    Vec::new()
}
