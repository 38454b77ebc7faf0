//! Taking what the record suggests for everybody at once, into cells nobody has marked.

use axum::{
    extract::{Path, State},
    response::Response,
};

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{LabSessionId, PersonId},
        marking::mark::{MarkSheet, Standing, Worth},
    },
    store::{
        WriteError,
        evening::lab_sessions,
        marking::{marks, rubrics},
        people::change_log,
    },
    web::{
        kit::{access::Staff, error::WebError, page::see_other, state::AppState},
        request::posted::Posted,
    },
};

use super::{
    cells::{Said, ToWrite},
    record::{Suggestions, gather},
    table_path,
};

pub(super) async fn take_all(
    State(state): State<AppState>,
    staff: Staff,
    Path(session): Path<LabSessionId>,
    posted: Posted,
) -> Result<Response, WebError> {
    let (at, actor, by) = (posted.at(), posted.actor(), PersonId::from(staff.account));
    let written = state.store.write(posted.stamp(), move |tx| {
        Box::pin(async move {
            let plan = lab_sessions::find(tx, session).await?.ok_or(WriteError::Missing("that session"))?;
            let rubric = match plan.rubric {
                Some(rubric) => rubrics::find(tx, rubric).await?,
                None => None,
            };
            let rubric = rubric.ok_or_else(|| FieldErrors::whole("this session has no rubric yet"))?;
            let mut sheets = marks::list_sheets(tx, session).await?;
            for student in marks::list_students(tx, session).await? {
                let sheet = sheets.remove(&student.student).unwrap_or_else(|| MarkSheet::blank(student.student));
                // what the student may have seen is changed by hand only, cell by cell
                if sheet.standing == Standing::Excused || sheet.first_given_back_at.is_some() {
                    continue;
                }
                let suggestions = Suggestions::of(&rubric, &gather(tx, &plan, &rubric, student.student).await?);
                let open = rubric.criteria.iter().filter(|it| sheet.worth(it.id) == Worth::Open);
                let taken: Vec<_> = open
                    .filter_map(|criterion| {
                        let (said, _) = Said::stored(&sheet, criterion.id);
                        let worth = suggestions.worth(criterion.id)?;
                        Some((criterion.clone(), Said { worth, reason: String::new(), ..said }))
                    })
                    .collect();
                let said = ToWrite::taking(taken).write(tx, session, &sheet, &suggestions, by, at).await?;
                if !said.is_empty() {
                    let detail = format!("{}: {said}", plan.title);
                    change_log::insert(tx, at, actor, "suggestions taken", "student", student.student, &detail).await?;
                }
            }
            Ok(table_path(session))
        })
    });
    written.await.map(|landing| see_other(&landing)).map_err(|error| WebError::from_write(error, &posted))
}
