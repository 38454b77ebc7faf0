//! A student's report on a session.

use crate::domain::{
    ids::{LabSessionId, PictureId, QuestionId, ReportId, StudentId},
    instant::Instant,
};

/// A session asks at most so many questions of a report.
pub const MOST_QUESTIONS: usize = 12;
/// The longest question, in characters.
pub const LONGEST_QUESTION: usize = 500;
/// The longest answer to a question, in characters.
pub const LONGEST_ANSWER: usize = 10_000;
/// A report shows at most so many pictures.
pub const MOST_PICTURES: usize = 6;

/// A question that the instructor asks of every report.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// Its id.
    pub id: QuestionId,
    /// What is asked.
    pub words: String,
    /// The unit the answer is a number of; `None` when it is text. May be empty: a pure number.
    pub unit: Option<String>,
}

/// A picture in a report, as a page names it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ReportPicture {
    /// Its id.
    pub id: PictureId,
    /// What the student says of it.
    pub caption: String,
    /// The sheet it shows, if it is of one.
    pub sheet: Option<i64>,
    /// Width in pixels.
    pub width_px: i64,
    /// Height in pixels.
    pub height_px: i64,
}

impl ReportPicture {
    /// What it shows, for who cannot see it: the sheet and the student's words.
    pub fn in_words(&self) -> String {
        let sheet = self.sheet.map_or_else(|| "A picture".to_owned(), |number| format!("Sheet {number}"));
        if self.caption.is_empty() { sheet } else { format!("{sheet}: {}", self.caption) }
    }
}

/// Whether a report handed in then is late.
pub fn is_late(submitted_at: Instant, due: Option<Instant>) -> bool {
    due.is_some_and(|due| submitted_at > due)
}

/// Where a report is in its life.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReportState {
    /// Being written; only its writer sees it.
    Draft,
    /// Handed in.
    Submitted {
        /// When.
        at: Instant,
    },
}

/// A step from one state to another that is not allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WrongReportStep {
    /// It was handed in already.
    #[error("this report is handed in: withdraw it before you change it")]
    SubmittedAlready,
    /// It was not handed in.
    #[error("this report is a draft: there is nothing to withdraw")]
    NotSubmitted,
    /// Somebody has given marks for it.
    #[error("marks were given for this report: ask your instructor")]
    Marked,
}

impl ReportState {
    /// The word for people, which is also the stored one.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Draft => "draft",
            Self::Submitted { .. } => "submitted",
        }
    }

    /// Whether it was handed in.
    pub fn is_submitted(self) -> bool {
        matches!(self, Self::Submitted { .. })
    }

    /// Whether its text may be changed now.
    ///
    /// # Errors
    /// When it is handed in.
    pub fn rewrite(self) -> Result<Self, WrongReportStep> {
        match self {
            Self::Draft => Ok(self),
            Self::Submitted { .. } => Err(WrongReportStep::SubmittedAlready),
        }
    }

    /// Hands it in.
    ///
    /// # Errors
    /// When it is handed in already.
    pub fn submit(self, at: Instant) -> Result<Self, WrongReportStep> {
        self.rewrite().map(|_| Self::Submitted { at })
    }

    /// Takes it back, as long as nobody has given marks.
    ///
    /// # Errors
    /// When it is a draft, or marked.
    pub fn withdraw(self, marked: bool) -> Result<Self, WrongReportStep> {
        match self {
            Self::Draft => Err(WrongReportStep::NotSubmitted),
            Self::Submitted { .. } if marked => Err(WrongReportStep::Marked),
            Self::Submitted { .. } => Ok(Self::Draft),
        }
    }
}

/// A report as it is stored.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Report {
    /// Its id.
    pub id: ReportId,
    /// The session it is about.
    pub session: LabSessionId,
    /// Who writes it.
    pub student: StudentId,
    /// The text.
    pub body: String,
    /// Where it is in its life.
    pub state: ReportState,
    /// When it was last saved.
    pub saved_at: Instant,
    /// Counts edits.
    pub version: i64,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at() -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range")
    }

    #[test]
    fn a_report_is_handed_in_and_may_be_taken_back_until_it_is_marked() {
        let submitted = ReportState::Draft.submit(at()).expect("drafts are handed in");
        assert_eq!(submitted.rewrite(), Err(WrongReportStep::SubmittedAlready));
        assert_eq!(submitted.withdraw(true), Err(WrongReportStep::Marked));
        assert_eq!(submitted.withdraw(false), Ok(ReportState::Draft));
        assert_eq!(ReportState::Draft.withdraw(false), Err(WrongReportStep::NotSubmitted));
    }
}
