//! Giving marks back to students, and taking them back.

use axum::{
    extract::{Path, State},
    response::Response,
};

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{LabSessionId, PersonId, StudentId},
        marking::mark::MarkState,
    },
    store::{
        Stamp, WriteError,
        evening::lab_sessions,
        marking::{marks, reports, rubrics},
        people::change_log,
    },
    web::{
        kit::{access::Staff, error::WebError, page::see_other, state::AppState},
        request::posted::Posted,
    },
};

use super::sheet_path;

pub(super) async fn give_back(
    State(state): State<AppState>,
    staff: Staff,
    Path((session, student)): Path<(LabSessionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (stamp, by) = (posted.stamp(), PersonId::from(staff.account));
    let Stamp { actor, at, .. } = stamp;
    let written = state.store.write(stamp, move |tx| {
        Box::pin(async move {
            let title = lab_sessions::find(tx, session).await?.ok_or(WriteError::Missing("that session"))?.title;
            let here = marks::list_students(tx, session).await?.into_iter().any(|it| it.student == student);
            if !here {
                return Err(WriteError::Missing("that student"));
            }
            if !reports::is_marked(tx, session, student).await? {
                return Err(FieldErrors::whole("nothing is marked yet, so there is nothing to give back").into());
            }
            marks::give_back(tx, session, student, by, at).await?;
            change_log::insert(tx, at, actor, "marks given back", "student", student, &title).await?;
            Ok(sheet_path(session, student))
        })
    });
    written.await.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

pub(super) async fn take_back(
    State(state): State<AppState>,
    Path((session, student)): Path<(LabSessionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let stamp = posted.stamp();
    let Stamp { actor, at, .. } = stamp;
    let written = state.store.write(stamp, move |tx| {
        Box::pin(async move {
            let title = lab_sessions::find(tx, session).await?.ok_or(WriteError::Missing("that session"))?.title;
            if marks::find_sheet(tx, session, student).await?.given_back_at.is_some() {
                marks::take_back(tx, session, student).await?;
                change_log::insert(tx, at, actor, "marks taken back", "student", student, &title).await?;
            }
            Ok(sheet_path(session, student))
        })
    });
    written.await.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

/// Gives back every sheet that is whole; those marked in part stay, and the page counts them.
pub(super) async fn give_back_all(
    State(state): State<AppState>,
    staff: Staff,
    Path(session): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (stamp, by) = (posted.stamp(), PersonId::from(staff.account));
    let Stamp { actor, at, .. } = stamp;
    let written = state.store.write(stamp, move |tx| {
        Box::pin(async move {
            let plan = lab_sessions::find(tx, session).await?.ok_or(WriteError::Missing("that session"))?;
            let rubric = match plan.rubric {
                Some(rubric) => rubrics::find(tx, rubric).await?,
                None => None,
            };
            let rubric = rubric.ok_or_else(|| FieldErrors::whole("this session has no rubric yet"))?;
            let mut whole: Vec<StudentId> = marks::list_sheets(tx, session)
                .await?
                .into_values()
                .filter(|sheet| sheet.state(&rubric) == MarkState::Whole)
                .map(|sheet| sheet.student)
                .collect();
            whole.sort_unstable();
            if whole.is_empty() {
                return Err(FieldErrors::whole("no student is marked in every criterion yet").into());
            }
            for student in whole {
                marks::give_back(tx, session, student, by, at).await?;
                change_log::insert(tx, at, actor, "marks given back", "student", student, &plan.title).await?;
            }
            Ok(format!("/front/sessions/{session}/marks"))
        })
    });
    written.await.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}

pub(super) async fn take_back_all(
    State(state): State<AppState>,
    Path(session): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let stamp = posted.stamp();
    let Stamp { actor, at, .. } = stamp;
    let written = state.store.write(stamp, move |tx| {
        Box::pin(async move {
            let title = lab_sessions::find(tx, session).await?.ok_or(WriteError::Missing("that session"))?.title;
            let mut given: Vec<StudentId> = marks::list_sheets(tx, session)
                .await?
                .into_values()
                .filter(|sheet| sheet.given_back_at.is_some())
                .map(|sheet| sheet.student)
                .collect();
            given.sort_unstable();
            for student in given {
                marks::take_back(tx, session, student).await?;
                change_log::insert(tx, at, actor, "marks taken back", "student", student, &title).await?;
            }
            Ok(format!("/front/sessions/{session}/marks"))
        })
    });
    written.await.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
