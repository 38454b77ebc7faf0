//! Giving marks back to students, and taking them back.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        field_errors::FieldErrors,
        ids::{LabSessionId, PersonId, StudentId},
        instant::Instant,
        marking::mark::{MarkSheet, MarkState},
        people::actor::Actor,
    },
    store::{
        WriteError,
        evening::lab_sessions,
        marking::{marks, reports},
        people::change_log,
    },
};

use super::plan;

/// Who gives marks back or takes them back, and when.
#[derive(Clone, Copy, Debug)]
pub struct By {
    /// Who acts.
    pub actor: Actor,
    /// When.
    pub at: Instant,
}

async fn session(tx: &mut SqliteConnection, id: LabSessionId) -> Result<LabSession, WriteError> {
    lab_sessions::find(tx, id).await?.ok_or(WriteError::Missing("that session"))
}

async fn give(
    tx: &mut SqliteConnection,
    session: &LabSession,
    student: StudentId,
    by: PersonId,
    who: By,
) -> Result<(), WriteError> {
    marks::give_back(tx, session.id, student, by, who.at).await?;
    change_log::insert(tx, who.at, who.actor, "marks given back", "student", student, &session.title).await?;
    Ok(())
}

async fn take(tx: &mut SqliteConnection, session: &LabSession, student: StudentId, who: By) -> Result<(), WriteError> {
    marks::take_back(tx, session.id, student).await?;
    change_log::insert(tx, who.at, who.actor, "marks taken back", "student", student, &session.title).await?;
    Ok(())
}

/// Gives one student their marks back.
///
/// # Errors
/// Missing when there is no such session or student; refused while nothing is marked.
pub async fn give_back(
    tx: &mut SqliteConnection,
    id: LabSessionId,
    student: StudentId,
    by: PersonId,
    who: By,
) -> Result<(), WriteError> {
    let session = session(tx, id).await?;
    if !marks::list_students(tx, id).await?.into_iter().any(|it| it.student == student) {
        return Err(WriteError::Missing("that student"));
    }
    if !reports::is_marked(tx, id, student).await? {
        return Err(FieldErrors::whole("nothing is marked yet, so there is nothing to give back").into());
    }
    give(tx, &session, student, by, who).await
}

/// Takes one student's marks back; nothing happens where they were not given back.
///
/// # Errors
/// Missing when there is no such session.
pub async fn take_back(
    tx: &mut SqliteConnection,
    id: LabSessionId,
    student: StudentId,
    who: By,
) -> Result<(), WriteError> {
    let session = session(tx, id).await?;
    if marks::find_sheet(tx, id, student).await?.given_back_at.is_some() {
        take(tx, &session, student, who).await?;
    }
    Ok(())
}

/// Gives back every sheet that is whole; those marked in part stay.
///
/// # Errors
/// Missing when there is no such session; refused while it has no rubric or no sheet is whole.
pub async fn give_back_all(
    tx: &mut SqliteConnection,
    id: LabSessionId,
    by: PersonId,
    who: By,
) -> Result<(), WriteError> {
    let (session, rubric) = plan::find_to_mark(tx, id).await?;
    let whole = students(tx, id, |sheet| sheet.state(&rubric) == MarkState::Whole).await?;
    if whole.is_empty() {
        return Err(FieldErrors::whole("no student is marked in every criterion yet").into());
    }
    for student in whole {
        give(tx, &session, student, by, who).await?;
    }
    Ok(())
}

/// Takes back every sheet that was given back.
///
/// # Errors
/// Missing when there is no such session.
pub async fn take_back_all(tx: &mut SqliteConnection, id: LabSessionId, who: By) -> Result<(), WriteError> {
    let session = session(tx, id).await?;
    for student in students(tx, id, |sheet| sheet.given_back_at.is_some()).await? {
        take(tx, &session, student, who).await?;
    }
    Ok(())
}

/// The students of such sheets, always in the same order.
async fn students(
    tx: &mut SqliteConnection,
    id: LabSessionId,
    such: impl Fn(&MarkSheet) -> bool,
) -> Result<Vec<StudentId>, WriteError> {
    let sheets = marks::list_sheets(tx, id).await?;
    let mut students: Vec<_> = sheets.into_values().filter(such).map(|sheet| sheet.student).collect();
    students.sort_unstable();
    Ok(students)
}
