//! Marks: one cell for each student and criterion, and the sheet they make up.

use std::collections::HashMap;

use super::{points::Points, rubric::Rubric};
use crate::domain::{
    ids::{CriterionId, PersonId, StudentId},
    instant::Instant,
};

/// One cell: what a student was given for a criterion.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mark {
    /// The points; `None` while there is only a comment, or after they were taken out again.
    pub points: Option<Points>,
    /// Whether the criterion does not count for this student; then there are no points.
    pub left_out: bool,
    /// What the record suggested then; `None` when it suggested no points.
    pub suggested: Option<Points>,
    /// The evidence of the record then; empty for a criterion judged by eye.
    pub evidence: String,
    /// Why something else was given than suggested.
    pub reason: String,
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
    /// All have that count for this student.
    Whole,
    /// The student is excused from all of it.
    Excused,
    /// The student can see them.
    GivenBack,
}

impl MarkState {
    /// As pages say it.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Part => "partly marked",
            Self::Whole => "marked",
            other => other.as_str(),
        }
    }

    /// The word in files.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Unmarked => "unmarked",
            Self::Part => "part",
            Self::Whole => "whole",
            Self::Excused => "excused",
            Self::GivenBack => "given back",
        }
    }
}

/// What a cell is worth.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Worth {
    /// Not marked yet.
    #[default]
    Open,
    /// So many points.
    Points(Points),
    /// The criterion does not count for this student.
    LeftOut,
}

/// What is typed into a cell to leave a criterion out for one student.
pub const LEFT_OUT: &str = "–";

impl Worth {
    /// Reads what is typed into a cell: nothing, a dash, or points up to `max`.
    ///
    /// # Errors
    /// When it is none of them.
    pub fn parse(typed: &str, max: Points) -> Result<Self, String> {
        match typed.trim() {
            "" => Ok(Self::Open),
            LEFT_OUT | "-" | "—" => Ok(Self::LeftOut),
            other => Points::parse(other, Points::ZERO, max).map(Self::Points).map_err(|error| error.to_string()),
        }
    }

    /// As it is typed.
    pub fn typed(self) -> String {
        match self {
            Self::Open => String::new(),
            Self::LeftOut => LEFT_OUT.to_owned(),
            Self::Points(points) => points.to_string(),
        }
    }

    /// In words.
    pub fn in_words(self) -> String {
        match self {
            Self::Open => "no points".to_owned(),
            Self::LeftOut => "left out".to_owned(),
            Self::Points(points) => format!("{points} points"),
        }
    }
}

/// How a student stands to a session.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Standing {
    /// Like everybody.
    #[default]
    AsUsual,
    /// Came or handed in late: noted beside the marks, the marker says what follows from it.
    Late,
    /// Excused from all of it: no total, and nothing is out of anything.
    Excused,
}

impl Standing {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::AsUsual, Self::Late, Self::Excused];

    /// The word for people, which is also the stored one.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::AsUsual => "as usual",
            Self::Late => "late",
            Self::Excused => "excused",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|standing| standing.as_str() == word)
    }
}

/// One student's marks in one session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarkSheet {
    /// Whose.
    pub student: StudentId,
    /// The cells that were ever marked.
    pub cells: HashMap<CriterionId, Mark>,
    /// How the student stands to the session.
    pub standing: Standing,
    /// The comment on all of it.
    pub comment: String,
    /// Counts edits of that comment and of the standing; zero before the first.
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
            standing: Standing::AsUsual,
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
        self.cells.get(&criterion).filter(|mark| !mark.left_out).and_then(|mark| mark.points)
    }

    /// What a criterion's cell is worth.
    pub fn worth(&self, criterion: CriterionId) -> Worth {
        match self.cells.get(&criterion) {
            Some(mark) if mark.left_out => Worth::LeftOut,
            Some(Mark { points: Some(points), .. }) => Worth::Points(*points),
            _ => Worth::Open,
        }
    }

    /// Whether a criterion counts for this student.
    pub fn counts(&self, criterion: CriterionId) -> bool {
        self.standing != Standing::Excused && self.worth(criterion) != Worth::LeftOut
    }

    /// The most points there are for this student: those of the criteria that count.
    pub fn out_of(&self, rubric: &Rubric) -> Points {
        rubric.criteria.iter().filter(|criterion| self.counts(criterion.id)).map(|criterion| criterion.max).sum()
    }

    /// Whether every criterion that counts has points, and one does.
    fn is_whole(&self, rubric: &Rubric) -> bool {
        let mut counting = rubric.criteria.iter().filter(|criterion| self.counts(criterion.id)).peekable();
        counting.peek().is_some() && counting.all(|criterion| self.points(criterion.id).is_some())
    }

    /// How far the marking is, by that rubric.
    pub fn state(&self, rubric: &Rubric) -> MarkState {
        if self.given_back_at.is_some() { MarkState::GivenBack } else { self.progress(rubric) }
    }

    /// How far the marking is, whether or not it was given back.
    pub fn progress(&self, rubric: &Rubric) -> MarkState {
        if self.standing == Standing::Excused {
            MarkState::Excused
        } else if self.is_whole(rubric) {
            MarkState::Whole
        } else if rubric.criteria.iter().any(|criterion| self.worth(criterion.id) != Worth::Open) {
            MarkState::Part
        } else {
            MarkState::Unmarked
        }
    }

    /// The points given so far; `None` while there are none, and for who is excused.
    pub fn total(&self, rubric: &Rubric) -> Option<Points> {
        let counting = rubric.criteria.iter().filter(|criterion| self.counts(criterion.id));
        let given: Vec<Points> = counting.filter_map(|criterion| self.points(criterion.id)).collect();
        (!given.is_empty()).then(|| given.into_iter().sum())
    }

    /// The total in tenths of a per cent of what it is out of for this student; `None` until every
    /// criterion that counts has points, because a share of the whole says something false about a
    /// sheet that is marked in part.
    pub fn tenths_of_a_percent(&self, rubric: &Rubric) -> Option<i64> {
        if self.is_whole(rubric) { self.total(rubric)?.tenths_of_a_percent_of(self.out_of(rubric)) } else { None }
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

    #[test]
    fn a_criterion_that_is_left_out_takes_its_points_out_of_the_whole() {
        use crate::{
            clock::World,
            domain::marking::{from_record::HoleTolerance, rubric::Criterion},
        };
        let at = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        let world = World::fixed(at);
        let criteria: Vec<Criterion> = [("Negative", 4_000), ("Trays", 2_000), ("Report", 4_000)]
            .map(|(name, milli)| Criterion {
                id: world.mint(),
                name: name.to_owned(),
                description: String::new(),
                max: Points::from_milli(milli),
                source: None,
                hole_within: HoleTolerance::default(),
                levels: Vec::new(),
            })
            .to_vec();
        let rubric = Rubric { id: world.mint(), site: world.mint(), name: "First".to_owned(), criteria, version: 1 };
        let mark = |worth| {
            let (points, left_out) = match worth {
                Worth::Points(points) => (Some(points), false),
                Worth::LeftOut => (None, true),
                Worth::Open => (None, false),
            };
            let (comment, evidence, reason) = (String::new(), String::new(), String::new());
            let marked_by = world.mint();
            Mark { points, left_out, suggested: None, evidence, reason, comment, marked_by, marked_at: at, version: 1 }
        };
        let mut sheet = MarkSheet::blank(world.mint());
        sheet.cells.insert(rubric.criteria[0].id, mark(Worth::Points(Points::from_milli(3_000))));
        sheet.cells.insert(rubric.criteria[1].id, mark(Worth::LeftOut));
        assert_eq!(sheet.state(&rubric), MarkState::Part);
        sheet.cells.insert(rubric.criteria[2].id, mark(Worth::Points(Points::from_milli(3_000))));
        assert_eq!((sheet.state(&rubric), sheet.out_of(&rubric)), (MarkState::Whole, Points::from_milli(8_000)));
        assert_eq!(sheet.tenths_of_a_percent(&rubric), Some(750), "6 of 8, not 6 of 10");
        sheet.standing = Standing::Excused;
        assert_eq!((sheet.state(&rubric), sheet.total(&rubric)), (MarkState::Excused, None));
    }

    #[test]
    fn a_cell_takes_points_a_dash_or_nothing() {
        let four = Points::from_milli(4_000);
        assert_eq!(Worth::parse(" 3,5 ", four), Ok(Worth::Points(Points::from_milli(3_500))));
        for dash in ["-", "–", "—"] {
            assert_eq!(Worth::parse(dash, four), Ok(Worth::LeftOut));
        }
        assert_eq!(Worth::parse("  ", four), Ok(Worth::Open));
        for wrong in ["5", "x", "--", "-1"] {
            assert!(Worth::parse(wrong, four).is_err(), "{wrong}");
        }
    }
}
