//! The cells of a student's marks: what was sent is settled against what is stored, and written.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        evening::lab_session::LabSession,
        ids::{CriterionId, LabSessionId, PersonId, StudentId},
        instant::Instant,
        marking::{
            mark::{CellEdit, Mark, MarkSheet, Settled, Standing, Worth},
            rubric::{Criterion, Rubric},
        },
    },
    store::{WriteError, marking::marks},
};

use super::suggestions::{self, Suggestions};

/// What a criterion's cell says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Said {
    /// What it is worth.
    pub worth: Worth,
    /// Why something else than suggested.
    pub reason: String,
    /// The comment.
    pub comment: String,
}

impl Said {
    /// What is stored, and its version.
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

/// What is said of the sheet as a whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Overall {
    /// How the student stands.
    pub standing: Standing,
    /// The comment on all of it.
    pub comment: String,
}

/// What was sent of one student, beside what the page had shown.
#[derive(Clone, Debug)]
pub struct Edited {
    /// The cells.
    pub cells: Vec<(Criterion, CellEdit<Said>)>,
    /// The sheet as a whole.
    pub overall: CellEdit<Overall>,
}

/// Why nothing is written.
#[derive(Clone, Debug)]
pub enum Unsettled {
    /// Somebody else changed a cell meanwhile: field by field its name, what was sent, what is stored.
    Clash(Vec<(String, String, String)>),
    /// These cells give something else than the record suggests, without a reason; each with what it suggests.
    WantsReasons(Vec<(CriterionId, String)>),
}

impl Edited {
    /// Decides for each cell.
    ///
    /// # Errors
    /// When one clashes, all that was sent beside what is stored; when a reason is missing, where.
    pub fn settle(self, stored: &MarkSheet, suggestions: &Suggestions) -> Result<ToWrite, Unsettled> {
        let mut fields = Vec::new();
        let mut clash = false;
        let mut wanting = Vec::new();
        let mut cells = Vec::new();
        for (criterion, edit) in self.cells {
            let (said, version) = Said::stored(stored, criterion.id);
            let settled = edit.settle(&said, version);
            clash |= settled == Settled::Clash;
            if settled != Settled::Leave {
                fields.push((criterion.name.clone(), edit.sent.in_words(), said.in_words()));
                if wants_reason(&edit.sent, &criterion, suggestions) {
                    let suggested = suggestions.find(criterion.id).map_or_else(String::new, suggestions::in_words);
                    wanting.push((criterion.id, suggested));
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
            return Err(Unsettled::Clash(fields));
        }
        if !wanting.is_empty() {
            return Err(Unsettled::WantsReasons(wanting));
        }
        Ok(ToWrite { cells, overall })
    }
}

/// Whether a cell that gives something else than the record suggests still wants its reason.
fn wants_reason(said: &Said, criterion: &Criterion, suggestions: &Suggestions) -> bool {
    let suggested = suggestions.worth(criterion.id);
    said.reason.is_empty() && said.worth != Worth::Open && suggested.is_some_and(|suggested| said.worth != suggested)
}

/// The cells that are to be written.
#[derive(Clone, Debug)]
pub struct ToWrite {
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
    ///
    /// # Errors
    /// When the database cannot take it.
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

/// A student's sheet as it is stored, and what the record suggests for it.
///
/// # Errors
/// When the database cannot be used.
pub async fn find(
    tx: &mut SqliteConnection,
    session: &LabSession,
    rubric: &Rubric,
    student: StudentId,
) -> Result<(MarkSheet, Suggestions), WriteError> {
    let stored = marks::find_sheet(tx, session.id, student).await?;
    let record = suggestions::gather(tx, session, rubric, student).await?;
    Ok((stored, Suggestions::of(rubric, &record)))
}
