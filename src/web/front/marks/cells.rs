//! What a form says of a student's cells, whether it is the whole sheet or one line of it: read
//! against the rubric as it is now, settled against what is stored now, and written.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        field_errors::FieldErrors,
        ids::{CriterionId, LabSessionId, PersonId, StudentId},
        instant::Instant,
        marking::{
            mark::{CellEdit, Mark, MarkSheet, Settled, Standing, Worth},
            rubric::{Criterion, Rubric},
        },
    },
    store::{Stale, WriteError, marking::marks},
    web::request::posted::{Posted, Reader},
};

use super::{
    record::{Suggestions, gather},
    sheet_path,
};

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

/// What a criterion's cell says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Said {
    pub worth: Worth,
    pub reason: String,
    pub comment: String,
}

impl Said {
    pub fn stored(sheet: &MarkSheet, criterion: CriterionId) -> (Self, i64) {
        sheet.cells.get(&criterion).map_or_else(
            || (Self::default(), 0),
            |mark| {
                let (reason, comment) = (mark.reason.clone(), mark.comment.clone());
                (Self { worth: sheet.worth(criterion), reason, comment }, mark.version)
            },
        )
    }

    fn in_words(&self) -> String {
        let mut words = self.worth.in_words();
        for more in [&self.reason, &self.comment] {
            if !more.is_empty() {
                words = format!("{words}. {more}");
            }
        }
        words
    }
}

/// What the form says of the sheet as a whole.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Overall {
    standing: Standing,
    comment: String,
}

/// What a form says of one student.
pub(super) struct Sent {
    cells: Vec<(Criterion, CellEdit<Said>)>,
    overall: CellEdit<Overall>,
}

fn has(posted: &Posted, name: &str) -> bool {
    posted.fields().iter().any(|(field, _)| field == name)
}

/// Whether the form says anything of this student.
pub(super) fn speaks_of(posted: &Posted, student: StudentId) -> bool {
    let mark = format!("-{student}");
    posted.fields().iter().any(|(field, _)| field.contains(&mark))
}

impl Sent {
    /// Reads it. A field that was not sent was not touched.
    pub fn read(
        reader: &mut Reader<'_>,
        posted: &Posted,
        names: Names,
        rubric: &Rubric,
        stored: &MarkSheet,
        suggestions: &Suggestions,
    ) -> Option<Self> {
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
                if criterion.is_some_and(|id| rubric.criteria.iter().all(|it| it.id != id)) && !value.trim().is_empty()
                {
                    reader.wrong(
                        "",
                        format!("a criterion was taken out of the rubric meanwhile; its “{value}” is not saved"),
                    );
                }
            }
        }
        whole.then_some(Self { cells, overall: overall? })
    }

    /// Decides for each cell; when one clashes, nothing is written and all that was typed is shown
    /// beside what is stored.
    pub fn settle(
        self,
        stored: &MarkSheet,
        suggestions: &Suggestions,
        names: Names,
        path: String,
    ) -> Result<ToWrite, WriteError> {
        let mut fields = Vec::new();
        let mut clash = false;
        let mut errors = FieldErrors::none();
        let mut cells = Vec::new();
        for (criterion, edit) in self.cells {
            let (said, version) = Said::stored(stored, criterion.id);
            let settled = edit.settle(&said, version);
            clash |= settled == Settled::Clash;
            if settled != Settled::Leave {
                fields.push((criterion.name.clone(), edit.sent.in_words(), said.in_words()));
                if let Some(message) = wants_reason(&edit.sent, &criterion, suggestions) {
                    errors.add(names.of("reason", criterion.id), message);
                }
                cells.push((criterion, edit.sent));
            }
        }
        let now = Overall { standing: stored.standing, comment: stored.comment.clone() };
        let settled = self.overall.settle(&now, stored.comment_version);
        clash |= settled == Settled::Clash;
        let overall = (settled != Settled::Leave).then_some(self.overall.sent);
        if let Some(sent) = &overall {
            fields.push(("Comment on all of it".to_owned(), sent.comment.clone(), now.comment));
            if sent.standing != now.standing {
                fields.push((
                    "Standing".to_owned(),
                    sent.standing.as_str().to_owned(),
                    now.standing.as_str().to_owned(),
                ));
            }
        }
        if clash {
            return Err(WriteError::Stale(Box::new(Stale { what: "a mark of this student".to_owned(), path, fields })));
        }
        if !errors.is_empty() {
            return Err(errors.into());
        }
        Ok(ToWrite { cells, overall })
    }
}

/// Whether a cell that gives something else than the record suggests still wants its reason.
fn wants_reason(said: &Said, criterion: &Criterion, suggestions: &Suggestions) -> Option<String> {
    let suggested = suggestions.worth(criterion.id)?;
    let differs = said.worth != Worth::Open && said.worth != suggested;
    (differs && said.reason.is_empty()).then(|| {
        let words = suggestions.find(criterion.id).map_or_else(String::new, super::record_words);
        format!("the record suggests {words}: say why you give something else")
    })
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

/// The cells that are to be written.
pub(super) struct ToWrite {
    cells: Vec<(Criterion, Said)>,
    overall: Option<Overall>,
}

impl ToWrite {
    /// Only these cells, each worth what the record suggests.
    pub fn taking(cells: Vec<(Criterion, Said)>) -> Self {
        Self { cells, overall: None }
    }

    /// Writes the cells; once the student may have seen the sheet, each change is kept for them.
    /// Gives what was written in a few words for the change log; empty when nothing was.
    pub async fn write(
        self,
        tx: &mut SqliteConnection,
        session: LabSessionId,
        stored: &MarkSheet,
        suggestions: &Suggestions,
        by: PersonId,
        at: Instant,
    ) -> Result<String, WriteError> {
        let student = stored.student;
        let seen_before = stored.first_given_back_at.is_some();
        let mut said = Vec::new();
        for (criterion, cell) in self.cells {
            let (was, version) = Said::stored(stored, criterion.id);
            let reworded = cell.comment != was.comment
                || cell.reason != was.reason
                || (cell.worth == Worth::LeftOut) != (was.worth == Worth::LeftOut);
            let points = |worth| if let Worth::Points(points) = worth { Some(points) } else { None };
            let suggestion = suggestions.find(criterion.id);
            let mark = Mark {
                points: points(cell.worth),
                left_out: cell.worth == Worth::LeftOut,
                suggested: suggestions.worth(criterion.id).and_then(points),
                evidence: suggestion.map_or_else(String::new, |suggestion| suggestion.evidence.clone()),
                reason: cell.reason,
                comment: cell.comment,
                marked_by: by,
                marked_at: at,
                version,
            };
            marks::put_mark(tx, session, student, criterion.id, &mark).await?;
            if seen_before {
                let (was, now) = (points(was.worth), points(cell.worth));
                marks::insert_change(tx, session, student, Some(criterion.id), was, now, reworded, by, at).await?;
            }
            said.push(format!("{} {}", criterion.name, cell.worth.in_words()));
        }
        if let Some(overall) = self.overall {
            marks::put_comment(tx, session, student, overall.standing, &overall.comment, by, at).await?;
            if seen_before {
                marks::insert_change(tx, session, student, None, None, None, true, by, at).await?;
            }
            said.push("comment on all".to_owned());
        }
        Ok(said.join(", "))
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
    let stored = marks::find_sheet(tx, plan.id, student).await?;
    let suggestions = Suggestions::of(rubric, &gather(tx, plan, rubric, student).await?);
    let Some(sent) = Sent::read(reader, posted, names, rubric, &stored, &suggestions) else { return Ok(None) };
    let path = if names.0.is_some() { super::table_path(plan.id) } else { sheet_path(plan.id, student) };
    let settled = sent.settle(&stored, &suggestions, names, path)?;
    settled.write(tx, plan.id, &stored, &suggestions, by, posted.at()).await.map(Some)
}
