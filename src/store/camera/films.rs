//! Which film a camera holds. Paper comes from the session; film in a body cap is the camera's own.

use sqlx::SqliteConnection;

use crate::domain::{
    camera::Camera,
    ids::{CameraId, PaperId, PersonId},
    instant::Instant,
    stock::paper::{Paper, PaperKind},
};

use crate::store::{Error, stock::papers};

/// The film that was put into a camera last.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_in(conn: &mut SqliteConnection, camera: CameraId) -> Result<Option<Paper>, Error> {
    let film = sqlx::query_scalar!(
        "SELECT film_id FROM film_in_camera WHERE camera_id = ? ORDER BY from_at DESC LIMIT 1",
        camera
    )
    .fetch_optional(&mut *conn)
    .await?;
    match film {
        Some(film) => papers::find(conn, film).await,
        None => Ok(None),
    }
}

/// What a camera is loaded with in a session that hands out this paper: the paper; in a body cap the film
/// that was put in, or the session's where the session is one of film. `None` while nobody has said
/// which film a body cap holds.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_loaded(
    conn: &mut SqliteConnection,
    handed_out: &Paper,
    camera: &Camera,
) -> Result<Option<Paper>, Error> {
    if !camera.holds_film() {
        return Ok(Some(handed_out.clone()));
    }
    let own = find_in(conn, camera.id).await?;
    Ok(own.or_else(|| (handed_out.kind == PaperKind::Film).then(|| handed_out.clone())))
}

/// The films on the shelf, by name.
///
/// # Errors
/// When the database cannot be used.
pub async fn list(conn: &mut SqliteConnection) -> Result<Vec<Paper>, Error> {
    let all = papers::list(conn).await?;
    Ok(all.into_iter().filter(|paper| paper.kind == PaperKind::Film).collect())
}

/// Puts a film into a camera.
///
/// # Errors
/// When the database cannot be used.
pub async fn put_in(
    tx: &mut SqliteConnection,
    camera: CameraId,
    film: PaperId,
    at: Instant,
    by: PersonId,
) -> Result<(), Error> {
    sqlx::query!(
        "INSERT INTO film_in_camera (camera_id, from_at, film_id, recorded_by) VALUES (?, ?, ?, ?)
         ON CONFLICT (camera_id, from_at) DO UPDATE SET film_id = excluded.film_id, recorded_by = excluded.recorded_by",
        camera,
        at,
        film,
        by
    )
    .execute(tx)
    .await?;
    Ok(())
}
