//! Giving marks back to students, and taking them back.

use axum::{
    extract::{Path, State},
    response::Response,
};

use crate::{
    domain::ids::{LabSessionId, PersonId, StudentId},
    lab::marking::giving_back::{self, By},
    store::WriteError,
    web::{
        kit::{access::Staff, error::WebError, page::see_other, state::AppState},
        request::posted::Posted,
    },
};

use super::{sheet_path, table_path};

fn by(posted: &Posted) -> By {
    By { actor: posted.actor(), at: posted.at() }
}

fn answered(written: Result<String, WriteError>, posted: &Posted) -> Result<Response, WebError> {
    written.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, posted))
}

pub(super) async fn give_back(
    State(state): State<AppState>,
    staff: Staff,
    Path((session, student)): Path<(LabSessionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (by, person) = (by(&posted), PersonId::from(staff.account));
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            giving_back::give_back(tx, session, student, person, by).await?;
            Ok(sheet_path(session, student))
        })
    });
    answered(written.await, &posted)
}

pub(super) async fn take_back(
    State(state): State<AppState>,
    Path((session, student)): Path<(LabSessionId, StudentId)>,
    posted: Posted,
) -> Result<Response, WebError> {
    let by = by(&posted);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            giving_back::take_back(tx, session, student, by).await?;
            Ok(sheet_path(session, student))
        })
    });
    answered(written.await, &posted)
}

/// Gives back every sheet that is whole; those marked in part stay, and the page counts them.
pub(super) async fn give_back_all(
    State(state): State<AppState>,
    staff: Staff,
    Path(session): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (by, person) = (by(&posted), PersonId::from(staff.account));
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            giving_back::give_back_all(tx, session, person, by).await?;
            Ok(table_path(session))
        })
    });
    answered(written.await, &posted)
}

pub(super) async fn take_back_all(
    State(state): State<AppState>,
    Path(session): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let by = by(&posted);
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            giving_back::take_back_all(tx, session, by).await?;
            Ok(table_path(session))
        })
    });
    answered(written.await, &posted)
}
