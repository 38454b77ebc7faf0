//! What a form says of a student's cells, whether it is the whole sheet or one line of it: read
//! against the rubric as it is now.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        field_errors::FieldErrors,
        ids::{CriterionId, LabSessionId, PersonId, StudentId},
        marking::{
            mark::{CellEdit, MarkSheet, Standing, Worth},
            rubric::{Criterion, Rubric},
        },
    },
    lab::marking::{
        cells::{self, Edited, Overall, Said, Unsettled},
        suggestions::Suggestions,
    },
    store::{Stale, WriteError},
    web::request::posted::{Posted, Reader},
};

use super::sheet_path;

/// The longest comment.
pub(super) const LONGEST_COMMENT: usize = 4_000;
/// The longest reason for giving something else than suggested.
pub(super) const LONGEST_REASON: usize = 500;

/// How the fields of a form are named: on a student's own page without the student.
#[derive(Clone, Copy, Debug)]
pub(super) struct Names(pub Option<StudentId>);

impl Names {
    pub fn of(self, name: &str, criterion: CriterionId) -> String {
        match self.0 {
            Some(student) => format!("{name}-{student}-{criterion}"),
            None => format!("{name}-{criterion}"),
        }
    }

    pub fn overall(self, name: &str) -> String {
        match self.0 {
            Some(student) => format!("{name}-{student}"),
            None => name.to_owned(),
        }
    }
}

fn has(posted: &Posted, name: &str) -> bool {
    posted.fields().iter().any(|(field, _)| field == name)
}

/// Whether the form says anything of this student.
pub(super) fn speaks_of(posted: &Posted, student: StudentId) -> bool {
    let mark = format!("-{student}");
    posted.fields().iter().any(|(field, _)| field.contains(&mark))
}

/// Reads what a form says of one student. A field that was not sent was not touched.
fn read(
    reader: &mut Reader<'_>,
    posted: &Posted,
    names: Names,
    rubric: &Rubric,
    stored: &MarkSheet,
    suggestions: &Suggestions,
) -> Option<Edited> {
    let mut whole = true;
    let mut cells = Vec::with_capacity(rubric.criteria.len());
    for criterion in &rubric.criteria {
        match read_cell(reader, posted, names, criterion, stored, suggestions) {
            Some(edit) => cells.push((criterion.clone(), edit)),
            None => whole = false,
        }
    }
    let overall = read_overall(reader, posted, names, stored);
    if names.0.is_none() {
        for (name, value) in posted.fields() {
            // a mark for a criterion that is no longer in the rubric must not vanish without a word
            let criterion = name.strip_prefix("points-").and_then(|id| id.parse::<CriterionId>().ok());
            if criterion.is_some_and(|id| rubric.criteria.iter().all(|it| it.id != id)) && !value.trim().is_empty() {
                reader.wrong(
                    "",
                    format!("a criterion was taken out of the rubric meanwhile; its “{value}” is not saved"),
                );
            }
        }
    }
    whole.then_some(Edited { cells, overall: overall? })
}

fn read_cell(
    reader: &mut Reader<'_>,
    posted: &Posted,
    names: Names,
    criterion: &Criterion,
    stored: &MarkSheet,
    suggestions: &Suggestions,
) -> Option<CellEdit<Said>> {
    let (now, version) = Said::stored(stored, criterion.id);
    let name = names.of("points", criterion.id);
    if !has(posted, &name) {
        return Some(CellEdit { had: now.clone(), sent: now, seen: version });
    }
    let taken = posted.get("take") == names.of("take", criterion.id);
    let worth = match (
        taken.then(|| suggestions.worth(criterion.id)).flatten(),
        Worth::parse(reader.raw(&name), criterion.max),
    ) {
        (Some(suggested), _) => Some(suggested),
        (None, Ok(worth)) => Some(worth),
        (None, Err(message)) => {
            reader.wrong(&name, message);
            None
        }
    };
    // a field that is not on the form is as it is stored, on both sides
    let had = |field: &str, now: &str| {
        let name = names.of(&format!("had-{field}"), criterion.id);
        if has(posted, &name) { posted.get(&name).trim().to_owned() } else { now.to_owned() }
    };
    let mut sent = |field: &str, now: &str, most: usize| {
        let name = names.of(field, criterion.id);
        if has(posted, &name) { reader.lines(&name, 0..=most) } else { Some(now.to_owned()) }
    };
    let comment = sent("comment", &now.comment, LONGEST_COMMENT);
    let reason = sent("reason", &now.reason, LONGEST_REASON);
    let had = Said {
        worth: Worth::parse(posted.get(&names.of("had-points", criterion.id)), criterion.max).unwrap_or_default(),
        reason: had("reason", &now.reason),
        comment: had("comment", &now.comment),
    };
    let seen = posted.get(&names.of("seen", criterion.id)).parse().unwrap_or(0);
    let mut sent = Said { worth: worth?, reason: reason?, comment: comment? };
    if suggestions.worth(criterion.id) == Some(sent.worth) {
        // what is given as suggested needs no reason any more
        sent.reason.clear();
    }
    Some(CellEdit { had, sent, seen })
}

fn read_overall(
    reader: &mut Reader<'_>,
    posted: &Posted,
    names: Names,
    stored: &MarkSheet,
) -> Option<CellEdit<Overall>> {
    let now = Overall { standing: stored.standing, comment: stored.comment.clone() };
    let (comment_name, standing_name) = (names.overall("overall"), names.overall("standing"));
    if !has(posted, &comment_name) && !has(posted, &standing_name) {
        return Some(CellEdit { had: now.clone(), sent: now, seen: stored.comment_version });
    }
    let comment = if has(posted, &comment_name) {
        reader.lines(&comment_name, 0..=LONGEST_COMMENT)
    } else {
        Some(now.comment.clone())
    };
    let comment = comment.map(|comment| with_phrase(comment, posted.get(&names.overall("phrase")).trim()));
    let standing = if has(posted, &standing_name) {
        reader.choice(&standing_name, Standing::from_word)
    } else {
        Some(now.standing)
    };
    let had_comment = names.overall("had-overall");
    let had = Overall {
        standing: Standing::from_word(posted.get(&names.overall("had-standing"))).unwrap_or(now.standing),
        comment: if has(posted, &had_comment) { posted.get(&had_comment).trim().to_owned() } else { now.comment },
    };
    let seen = posted.get(&names.overall("seen-overall")).parse().unwrap_or(0);
    Some(CellEdit { had, sent: Overall { standing: standing?, comment: comment? }, seen })
}

/// A comment with a stock phrase put at its end, unless it is there.
fn with_phrase(comment: String, phrase: &str) -> String {
    match (comment.is_empty(), phrase.is_empty() || comment.contains(phrase)) {
        (_, true) => comment,
        (true, false) => phrase.to_owned(),
        (false, false) => format!("{comment}\n{phrase}"),
    }
}

/// Reads, settles and writes what a form says of one student; gives what was written in words.
#[expect(clippy::too_many_arguments, reason = "what a marker's form is read against")]
pub(super) async fn save(
    tx: &mut SqliteConnection,
    reader: &mut Reader<'_>,
    posted: &Posted,
    names: Names,
    plan: &LabSession,
    rubric: &Rubric,
    student: StudentId,
    by: PersonId,
) -> Result<Option<String>, WriteError> {
    let (stored, suggestions) = cells::find(tx, plan, rubric, student).await?;
    let Some(sent) = read(reader, posted, names, rubric, &stored, &suggestions) else { return Ok(None) };
    let settled = sent.settle(&stored, &suggestions).map_err(|why| unsettled(why, names, plan.id, student))?;
    settled.write(tx, plan.id, &stored, &suggestions, by, posted.at()).await.map(Some)
}

fn unsettled(why: Unsettled, names: Names, session: LabSessionId, student: StudentId) -> WriteError {
    match why {
        Unsettled::Clash(fields) => {
            let path = if names.0.is_some() { super::table_path(session) } else { sheet_path(session, student) };
            WriteError::Stale(Box::new(Stale { what: "a mark of this student".to_owned(), path: path.into(), fields }))
        }
        Unsettled::WantsReasons(cells) => {
            let mut errors = FieldErrors::none();
            for (criterion, words) in cells {
                let message = format!("the record suggests {words}: say why you give something else");
                errors.add(names.of("reason", criterion), message);
            }
            errors.into()
        }
    }
}
