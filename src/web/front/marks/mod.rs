//! Marks of a session: one table that is marked in, and one page a student with the evidence
//! beside the form.

mod cells;
mod evidence;
mod giving_back;
mod phrases;
mod seen;
mod sheet;
mod suggested;
mod table;

use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        ids::{LabSessionId, StudentId},
        marking::rubric::Rubric,
    },
    lab::marking::plan,
    web::{
        kit::{
            access::Access,
            error::WebError,
            routes::{Route, change, page},
        },
        request::takes::Takes,
    },
};

/// The routes of these pages.
pub fn routes() -> Vec<Route> {
    vec![
        page("/front/sessions/{id}/marks", Access::Staff, table::show),
        change("/front/sessions/{id}/marks", Access::Staff, table::save).taking(Takes::PILE),
        page("/front/sessions/{id}/marks/now", Access::Staff, table::now),
        change("/front/sessions/{id}/marks/take-suggestions", Access::Staff, suggested::take_all).taking(Takes::PILE),
        change("/front/sessions/{id}/marks/give-back", Access::Instructor, giving_back::give_back_all)
            .taking(Takes::PILE),
        change("/front/sessions/{id}/marks/take-back", Access::Instructor, giving_back::take_back_all)
            .taking(Takes::PILE),
        page("/front/sessions/{id}/seen", Access::Staff, seen::show),
        change("/front/sessions/{id}/seen", Access::Staff, seen::save).taking(Takes::PILE),
        page("/front/phrases", Access::Staff, phrases::show),
        change("/front/phrases", Access::Staff, phrases::save).taking(Takes::TEXT),
        page("/front/sessions/{id}/marks/{student}", Access::Staff, sheet::show),
        change("/front/sessions/{id}/marks/{student}", Access::Staff, sheet::save).taking(Takes::PILE),
        page("/front/sessions/{id}/marks/{student}/pictures/{picture}", Access::Staff, evidence::picture),
        change("/front/sessions/{id}/marks/{student}/give-back", Access::Instructor, giving_back::give_back),
        change("/front/sessions/{id}/marks/{student}/take-back", Access::Instructor, giving_back::take_back),
    ]
}

/// The session and the rubric it is marked by, if its plan names one.
async fn session_and_rubric(
    conn: &mut SqliteConnection,
    id: LabSessionId,
) -> Result<(LabSession, Option<Rubric>), WebError> {
    plan::find(conn, id).await?.ok_or(WebError::NotFound("that session"))
}

/// The page of a student's marks in a session.
fn sheet_path(session: LabSessionId, student: StudentId) -> String {
    format!("/front/sessions/{session}/marks/{student}")
}

/// The page of a session's marks.
fn table_path(session: LabSessionId) -> String {
    format!("/front/sessions/{session}/marks")
}
