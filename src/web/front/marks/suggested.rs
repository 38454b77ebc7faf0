//! Taking what the record suggests for everybody at once.

use axum::{
    extract::{Path, State},
    response::Response,
};

use crate::{
    domain::ids::{LabSessionId, PersonId},
    lab::marking::suggested,
    web::{
        kit::{access::Staff, error::WebError, page::see_other, state::AppState},
        request::posted::Posted,
    },
};

use super::table_path;

pub(super) async fn take_all(
    State(state): State<AppState>,
    staff: Staff,
    Path(session): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, who) = (posted.at(), (posted.actor(), PersonId::from(staff.account)));
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            suggested::take_all(tx, session, who, at).await?;
            Ok(table_path(session))
        })
    });
    written.await.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
