//! Marks of a session: one table, and one page a student with the evidence beside the form.

mod evidence;
mod giving_back;
mod sheet;
mod table;

use sqlx::SqliteConnection;

use crate::{
    domain::{
        ids::{LabSessionId, StudentId},
        lab_session::LabSession,
        rubric::Rubric,
    },
    store::{lab_sessions, rubrics},
    web::{
        access::Access,
        error::WebError,
        routes::{Route, change, page},
    },
};

/// The routes of these pages.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/sessions/{id}/marks", Access::Staff, table::show),
        change("/front/sessions/{id}/marks/give-back", Access::Instructor, giving_back::give_back_all),
        change("/front/sessions/{id}/marks/take-back", Access::Instructor, giving_back::take_back_all),
        page("/front/sessions/{id}/marks/{student}", Access::Staff, sheet::show),
        change("/front/sessions/{id}/marks/{student}", Access::Staff, sheet::save),
        change("/front/sessions/{id}/marks/{student}/give-back", Access::Instructor, giving_back::give_back),
        change("/front/sessions/{id}/marks/{student}/take-back", Access::Instructor, giving_back::take_back),
    ]
}

/// The session and the rubric it is marked by, if its plan names one.
async fn session_and_rubric(
    conn: &mut SqliteConnection,
    id: LabSessionId,
) -> Result<(LabSession, Option<Rubric>), WebError> {
    let session = lab_sessions::find(conn, id).await?.ok_or(WebError::NotFound("that session"))?;
    let rubric = match session.rubric {
        Some(rubric) => rubrics::find(conn, rubric).await?,
        None => None,
    };
    Ok((session, rubric))
}

/// The page of a student's marks in a session.
fn sheet_path(session: LabSessionId, student: StudentId) -> String {
    format!("/front/sessions/{session}/marks/{student}")
}
