//! Which film is in a camera that holds film of its own.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        camera::Camera,
        field_errors::FieldErrors,
        ids::{PaperId, PersonId, StudentId},
        instant::Instant,
        people::actor::Actor,
        stock::paper::{Paper, PaperKind},
    },
    store::{
        WriteError,
        camera::{cameras, films},
        people::change_log,
        stock::papers,
    },
};

/// A film of the stockroom by what was chosen.
///
/// # Errors
/// A message beside the field when it is none.
pub async fn find_offered(tx: &mut SqliteConnection, field: &str, film: Option<PaperId>) -> Result<Paper, WriteError> {
    let found = match film {
        Some(film) => papers::find(tx, film).await?.filter(|film| film.kind == PaperKind::Film),
        None => None,
    };
    Ok(found.ok_or_else(|| FieldErrors::one(field, "choose one of the films offered"))?)
}

/// Says which film is in a student's camera.
///
/// # Errors
/// Refused when their camera holds none of its own, and for a film that is not offered.
pub async fn put_in(
    tx: &mut SqliteConnection,
    (actor, student): (Actor, StudentId),
    film: Option<PaperId>,
    at: Instant,
) -> Result<(), WriteError> {
    let camera = cameras::find_of_student(tx, student).await?.filter(Camera::holds_film);
    let camera = camera.ok_or_else(|| FieldErrors::whole("your camera holds no film of its own"))?;
    let film = find_offered(tx, "film", film).await?;
    films::put_in(tx, camera.id, film.id, at, PersonId::from(student)).await?;
    let detail = format!("camera {}, {}", camera.number, film.name);
    change_log::insert(tx, at, actor, "film put in", "camera", camera.id, &detail).await?;
    Ok(())
}
