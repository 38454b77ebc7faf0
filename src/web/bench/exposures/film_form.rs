//! The form that says which film is in a camera.

use sqlx::SqliteConnection;

use crate::{
    domain::camera::Camera,
    store::camera::films,
    web::{
        fields::film_choices::{film_choices, film_words},
        kit::{
            error::WebError,
            form::{Control, Form},
            frame::Frame,
        },
    },
};

/// The form that says which film it is.
pub struct FilmForm {
    /// The form.
    pub form: Form,
    /// The films of the stockroom.
    pub film: Control,
    /// Whether the stockroom has one at all.
    pub any: bool,
    /// What is in the camera, in words; empty while nobody has said.
    pub now: String,
}

impl FilmForm {
    /// Filled with the film that is in the camera now.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn load(
        conn: &mut SqliteConnection,
        frame: &Frame,
        camera: &Camera,
        refused: Option<Form>,
    ) -> Result<Self, WebError> {
        let now = films::find_in(conn, camera.id).await?;
        let offered = film_choices(conn, "choose").await?;
        let form = refused.unwrap_or_else(|| {
            let held = now.as_ref().map_or_else(String::new, |film| film.id.to_string());
            Form::filled(frame, 0, [("film", held)])
        });
        let form = form.prefixed("film");
        Ok(Self {
            film: form.select("film", "Film in the camera", &offered),
            any: offered.len() > 1,
            now: now.as_ref().map_or_else(String::new, film_words),
            form,
        })
    }
}
