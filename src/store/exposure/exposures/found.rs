//! Exposures looked up.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        exposure::Exposure,
        ids::{CameraId, ExposureId, LabSessionId, PaperId, SectionId, StudentId},
    },
    store::Error,
};

use super::row::ExposureRow;

/// One exposure.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(conn: &mut SqliteConnection, id: ExposureId) -> Result<Option<Exposure>, Error> {
    let row = sqlx::query_as!(ExposureRow, "SELECT * FROM exposure WHERE id = ?", id).fetch_optional(conn).await?;
    row.map(Exposure::try_from).transpose()
}

/// A session's exposures, in the order of their numbers; not those taken back.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_session(conn: &mut SqliteConnection, session: LabSessionId) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure WHERE lab_session_id = ? AND taken_back_at IS NULL ORDER BY number",
        session
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

/// A camera's exposures that still say something of the next one on this paper: from the box in use,
/// not left out, not taken back; in the order they were made.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_camera_on(
    conn: &mut SqliteConnection,
    camera: CameraId,
    paper: PaperId,
) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure
         WHERE camera_id = ?1 AND paper_id = ?2 AND taken_back_at IS NULL
           AND made_at >= (SELECT coalesce(max(begun_at), 0) FROM paper_box
                           WHERE paper_box.paper_id = ?2 AND paper_box.taken_back_at IS NULL)
           AND NOT EXISTS (SELECT 1 FROM left_out
                           WHERE left_out.exposure_id = exposure.id AND left_out.taken_back_at IS NULL)
         ORDER BY made_at, number",
        camera,
        paper
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

/// What a student may see: their own sheets and those of the camera they share now, newest first; not
/// those taken back.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_student(conn: &mut SqliteConnection, student: StudentId) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure
         WHERE (student_id = ?1
            OR camera_id IN (SELECT camera_id FROM camera_student WHERE student_id = ?1 AND to_at IS NULL))
           AND taken_back_at IS NULL
         ORDER BY number DESC",
        student
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

/// One exposure, if this student may see it: their own, or of the camera they share now.
///
/// # Errors
/// When the database cannot be used.
pub async fn find_of_student(
    conn: &mut SqliteConnection,
    id: ExposureId,
    student: StudentId,
) -> Result<Option<Exposure>, Error> {
    let row = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure
         WHERE id = ?1 AND (student_id = ?2
            OR camera_id IN (SELECT camera_id FROM camera_student WHERE student_id = ?2 AND to_at IS NULL))",
        id,
        student
    )
    .fetch_optional(conn)
    .await?;
    row.map(Exposure::try_from).transpose()
}

/// The newest sheets that teach something about a paper: judged in stops, nothing spoiled, not left
/// out, from the box in use. At most `most`, so that a box of years ago does not slow the page down.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_teaching(conn: &mut SqliteConnection, paper: PaperId, most: i64) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure
         WHERE paper_id = ?1 AND result_stops_milli IS NOT NULL AND fault IS NULL AND taken_back_at IS NULL
           AND made_at >= (SELECT coalesce(max(begun_at), 0) FROM paper_box
                           WHERE paper_box.paper_id = ?1 AND paper_box.taken_back_at IS NULL)
           AND NOT EXISTS (SELECT 1 FROM left_out
                           WHERE left_out.exposure_id = exposure.id AND left_out.taken_back_at IS NULL)
           -- recorded before a film could be named: whatever was in a body cap, it was not this paper
           AND NOT EXISTS (SELECT 1 FROM camera JOIN paper ON paper.id = exposure.paper_id
                           WHERE camera.id = exposure.camera_id AND camera.build = 'body cap' AND paper.kind = 'paper')
         ORDER BY made_at DESC, id DESC LIMIT ?2",
        paper,
        most
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

/// Every sheet made on a paper in the box in use, oldest first; not those taken back.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_paper(conn: &mut SqliteConnection, paper: PaperId) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure
         WHERE paper_id = ?1 AND taken_back_at IS NULL
           AND made_at >= (SELECT coalesce(max(begun_at), 0) FROM paper_box
                           WHERE paper_box.paper_id = ?1 AND paper_box.taken_back_at IS NULL)
         ORDER BY made_at, id",
        paper
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}

/// Every sheet of a section, in the order of their numbers; not those taken back.
///
/// # Errors
/// When the database cannot be used.
pub async fn list_of_section(conn: &mut SqliteConnection, section: SectionId) -> Result<Vec<Exposure>, Error> {
    let rows = sqlx::query_as!(
        ExposureRow,
        "SELECT * FROM exposure WHERE section_id = ? AND taken_back_at IS NULL ORDER BY number",
        section
    )
    .fetch_all(conn)
    .await?;
    rows.into_iter().map(Exposure::try_from).collect()
}
