//! The site's cameras, to choose one from.

use sqlx::SqliteConnection;

use crate::{
    calc::working::figures,
    domain::camera::{Camera, hole::Hole},
    store::{
        camera::{cameras, holes},
        people::sections,
    },
    web::kit::error::WebError,
};

/// Every camera of the site with a measured hole.
///
/// # Errors
/// When the database cannot be used.
pub async fn camera_choices(conn: &mut SqliteConnection) -> Result<Vec<(String, String)>, WebError> {
    let mut choices = vec![(String::new(), "none of these: by the f-number below".to_owned())];
    for section in sections::list(conn).await? {
        for camera in cameras::list_of_section(conn, section.id).await? {
            if let Some(hole) = holes::find_latest(conn, camera.id).await? {
                choices.push((camera.id.to_string(), camera_words(&section.name, &camera, &hole)));
            }
        }
    }
    Ok(choices)
}

/// A camera in words: `Monday: camera 3, box, f/228`.
pub fn camera_words(section: &str, camera: &Camera, hole: &Hole) -> String {
    let f_number = figures(hole.f_number(camera.hole_to_film()).as_number(), 3);
    format!("{section}: camera {}, {}, f/{f_number}", camera.number, camera.build().as_str())
}
