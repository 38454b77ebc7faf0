//! Marks: one cell for each student and criterion, and the sheet they make up.

use std::collections::HashMap;

use super::{
    ids::{CriterionId, PersonId, StudentId},
    instant::Instant,
    points::Points,
    rubric::Rubric,
};

/// One cell: what a student was given for a criterion.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// The points; `None` while there is only a comment, or after they were taken out again.
    pub points: Option<Points>,
    /// What the marker says.
    pub comment: String,
    /// Who changed it last.
    pub marked_by: PersonId,
    /// When.
    pub marked_at: Instant,
    /// Counts edits of this cell.
    pub version: i64,
}

/// How far the marking of one student is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkState {
    /// No criterion has points.
    Unmarked,
    /// Some have.
    Part,
    /// All have.
    Whole,
    /// The student can see them.
    GivenBack,
}

impl MarkState {
    /// The word for people and files.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Unmarked => "unmarked",
            Self::Part => "part",
            Self::Whole => "whole",
            Self::GivenBack => "given back",
        }
    }
}

/// One student's marks in one session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarkSheet {
    /// Whose.
    pub student: StudentId,
    /// The cells that were ever marked.
    pub cells: HashMap<CriterionId, Mark>,
    /// The comment on all of it.
    pub comment: String,
    /// Counts edits of that comment; zero before the first.
    pub comment_version: i64,
    /// Who wrote that comment.
    pub commented_by: Option<PersonId>,
    /// When.
    pub commented_at: Option<Instant>,
    /// Since when the student can see it; `None` when they cannot.
    pub given_back_at: Option<Instant>,
    /// When they could see it first; stays when it is taken back.
    pub first_given_back_at: Option<Instant>,
}

impl MarkSheet {
    /// A sheet nobody has written on.
    pub fn blank(student: StudentId) -> Self {
        Self {
            student,
            cells: HashMap::new(),
            comment: String::new(),
            comment_version: 0,
            commented_by: None,
            commented_at: None,
            given_back_at: None,
            first_given_back_at: None,
        }
    }

    /// The points of a criterion, if it has any.
    pub fn points(&self, criterion: CriterionId) -> Option<Points> {
        self.cells.get(&criterion).and_then(|mark| mark.points)
    }

    /// How far the marking is, by that rubric.
    pub fn state(&self, rubric: &Rubric) -> MarkState {
        if self.given_back_at.is_some() {
            return MarkState::GivenBack;
        }
        let marked = rubric.criteria.iter().filter(|criterion| self.points(criterion.id).is_some()).count();
        match marked {
            0 => MarkState::Unmarked,
            all if all == rubric.criteria.len() => MarkState::Whole,
            _ => MarkState::Part,
        }
    }

    /// The points given so far; `None` while there are none.
    pub fn total(&self, rubric: &Rubric) -> Option<Points> {
        let given: Vec<Points> = rubric.criteria.iter().filter_map(|criterion| self.points(criterion.id)).collect();
        (!given.is_empty()).then(|| given.into_iter().sum())
    }

    /// The total in tenths of a per cent; `None` until every criterion has points, because a
    /// share of the whole says something false about a sheet that is marked in part.
    pub fn tenths_of_a_percent(&self, rubric: &Rubric) -> Option<i64> {
        let all = rubric.criteria.iter().all(|criterion| self.points(criterion.id).is_some());
        if all { self.total(rubric)?.tenths_of_a_percent_of(rubric.out_of()) } else { None }
    }

    /// When anything on it was changed last.
    pub fn marked_at(&self) -> Option<Instant> {
        self.cells.values().map(|mark| mark.marked_at).chain(self.commented_at).max()
    }
}

/// A change of a mark after the student may have seen it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarkChange {
    /// The criterion's name; `None` for the comment on all.
    pub criterion: Option<String>,
    /// The points before.
    pub was: Option<Points>,
    /// The points after.
    pub now: Option<Points>,
    /// Whether the comment was changed.
    pub comment_changed: bool,
    /// When.
    pub at: Instant,
}

/// What a form says of one cell: what the page had shown, what was sent back, and the version seen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CellEdit<T> {
    /// What the page had shown.
    pub had: T,
    /// What was sent.
    pub sent: T,
    /// The cell's version on the page; zero for a cell nobody had marked.
    pub seen: i64,
}

/// What is to be done with a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Settled {
    /// Nothing: the marker left it alone, or it already says what was sent.
    Leave,
    /// Write what was sent.
    Write,
    /// Another marker changed it since the page was loaded: show both.
    Clash,
}

impl<T: PartialEq> CellEdit<T> {
    /// Decides, from what is stored now. A cell the marker did not touch is left to whoever did,
    /// so that two people on one student's page never undo one another.
    pub fn settle(&self, stored: &T, version: i64) -> Settled {
        if self.sent == self.had || self.sent == *stored {
            Settled::Leave
        } else if self.seen == version {
            Settled::Write
        } else {
            Settled::Clash
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edit(had: &'static str, sent: &'static str, seen: i64) -> CellEdit<&'static str> {
        CellEdit { had, sent, seen }
    }

    #[test]
    fn a_cell_is_written_when_nobody_else_touched_it() {
        assert_eq!(edit("", "4", 0).settle(&"", 0), Settled::Write);
        assert_eq!(edit("4", "5", 2).settle(&"4", 2), Settled::Write);
        assert_eq!(edit("4", "", 2).settle(&"4", 2), Settled::Write);
    }

    #[test]
    fn an_untouched_cell_keeps_what_the_other_marker_gave() {
        assert_eq!(edit("", "", 0).settle(&"3", 1), Settled::Leave);
    }

    #[test]
    fn two_different_marks_for_one_cell_clash_and_two_equal_ones_do_not() {
        assert_eq!(edit("", "4", 0).settle(&"3", 1), Settled::Clash);
        assert_eq!(edit("", "3", 0).settle(&"3", 1), Settled::Leave);
    }
}
