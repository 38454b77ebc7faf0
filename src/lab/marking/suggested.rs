//! Taking what the record suggests for everybody at once, into cells nobody has marked.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        ids::{LabSessionId, PersonId},
        instant::Instant,
        marking::mark::{MarkSheet, Standing, Worth},
        people::actor::Actor,
    },
    store::{WriteError, marking::marks, people::change_log},
};

use super::{
    cells::{Said, ToWrite},
    plan,
    suggestions::{Suggestions, gather},
};

/// Takes every suggestion that can be taken.
///
/// # Errors
/// Missing when there is no such session; refused while it has no rubric.
pub async fn take_all(
    tx: &mut SqliteConnection,
    session: LabSessionId,
    (actor, by): (Actor, PersonId),
    at: Instant,
) -> Result<(), WriteError> {
    let (plan, rubric) = plan::find_to_mark(tx, session).await?;
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
    Ok(())
}
