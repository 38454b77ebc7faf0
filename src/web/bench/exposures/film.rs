//! Which film is in a camera that holds film of its own: its speed and reciprocity count, not those of
//! the session's paper.

use axum::{
    extract::State,
    response::{IntoResponse, Response},
};
use sqlx::SqliteConnection;

use crate::{
    calc::working::plain,
    domain::{
        camera::Camera,
        exposure::aim::Aim,
        field_errors::FieldErrors,
        ids::{PaperId, PersonId},
        stock::paper::{Paper, PaperKind},
    },
    store::{
        Error, WriteError,
        camera::{cameras, films},
        people::change_log,
        stock::papers,
    },
    web::{
        kit::{
            access::Bench,
            error::WebError,
            form::{Control, Form},
            frame::Frame,
            page::see_other,
            state::AppState,
        },
        request::posted::Posted,
    },
};

use super::desk::Desk;

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

/// The films of the stockroom as a list that opens, beginning with an empty choice.
///
/// # Errors
/// When the database cannot be used.
pub async fn film_choices(conn: &mut SqliteConnection, first: &str) -> Result<Vec<(String, String)>, Error> {
    let mut offered = vec![(String::new(), first.to_owned())];
    offered.extend(films::list(conn).await?.iter().map(|film| (film.id.to_string(), film_words(film))));
    Ok(offered)
}

/// `Film, ISO 100 at EI 100`.
pub fn film_words(film: &Paper) -> String {
    format!("{} at EI {}", film.name, plain(film.exposure_index().as_number()))
}

/// A film of the stockroom by what a form sent.
///
/// # Errors
/// A message beside the field when it is none.
pub async fn offered_film(tx: &mut SqliteConnection, field: &str, film: Option<PaperId>) -> Result<Paper, WriteError> {
    let found = match film {
        Some(film) => papers::find(tx, film).await?.filter(|film| film.kind == PaperKind::Film),
        None => None,
    };
    Ok(found.ok_or_else(|| FieldErrors::one(field, "choose one of the films offered"))?)
}

/// Says which film is in the student's camera.
pub async fn put_in(
    State(state): State<AppState>,
    frame: Frame,
    bench: Bench,
    posted: Posted,
) -> Result<Response, WebError> {
    let film: Option<PaperId> = posted.get("film").parse().ok();
    let (at, actor, student) = (posted.at(), bench.actor(), bench.student);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let camera = cameras::find_of_student(tx, student).await?.filter(Camera::holds_film);
            let camera = camera.ok_or_else(|| FieldErrors::whole("your camera holds no film of its own"))?;
            let film = offered_film(tx, "film", film).await?;
            films::put_in(tx, camera.id, film.id, at, PersonId::from(student)).await?;
            let detail = format!("camera {}, {}", camera.number, film.name);
            change_log::insert(tx, at, actor, "film put in", "camera", camera.id, &detail).await?;
            Ok("/bench/exposures".to_owned())
        })
    });
    match written.await {
        Ok(landing) => Ok(see_other(&landing)),
        Err(WriteError::Refused(errors)) => {
            let asking = Form::empty(&frame);
            let film = Some(Form::refused(&posted, errors));
            let desk = Desk {
                at: posted.at(),
                aim: Aim::MIDDLE,
                light: None,
                asking,
                sign: None,
                counted: None,
                recording: None,
                film,
            };
            Ok(desk.page(&state, frame, &bench).await?.unprocessable().into_response())
        }
        Err(error) => Err(WebError::from_write(error, &posted)),
    }
}
