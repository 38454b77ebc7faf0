//! A student answers one of the values that are held back.

use sqlx::SqliteConnection;

use crate::{
    domain::{
        field_errors::FieldErrors,
        ids::{LabSessionId, OwnFigureId, SectionId, StudentId},
        instant::Instant,
        marking::own_figure::{Figure, Judged, Question, Try},
        people::actor::Actor,
    },
    lab::{exposure::at_hand::AtHand, marking::own_figures::AskedFigure},
    store::{WriteError, marking::own_figures, people::change_log},
};

use super::own_figures::asked_of;

/// A value that waits for a student's answer.
pub struct Unanswered {
    /// The question, with this student's numbers.
    pub question: Question,
    session: LabSessionId,
    student: StudentId,
    asked: AskedFigure,
}

/// An answer as it was typed.
#[derive(Clone, Debug)]
pub struct Answer {
    /// The value.
    pub typed: String,
    /// Its unit.
    pub unit: String,
    /// How they got there.
    pub working: String,
}

impl Unanswered {
    /// Looks it up.
    ///
    /// # Errors
    /// Refused when no session is open, when the value is not asked for or open already, and while its numbers are
    /// not there.
    pub async fn find(
        tx: &mut SqliteConnection,
        section: SectionId,
        student: StudentId,
        figure: Figure,
    ) -> Result<Self, WriteError> {
        let at_hand = AtHand::load(tx, section, student).await?;
        let session = at_hand
            .open_session()
            .ok_or_else(|| FieldErrors::whole("no session is open now: the values are open anyway"))?;
        let asked = asked_of(tx, session, section, student).await?.into_iter().find(|it| it.ask.figure == figure);
        let mut asked = asked.ok_or_else(|| FieldErrors::whole("this value is not asked for any more"))?;
        if asked.is_open() {
            return Err(FieldErrors::whole("this value is open already: there is nothing left to answer").into());
        }
        let question = asked.question.take();
        let question = question.ok_or_else(|| FieldErrors::whole("its numbers are not there yet: measure first"))?;
        Ok(Self { question, session: session.id, student, asked })
    }

    /// Whether an answer is right.
    ///
    /// # Errors
    /// What is wrong with the answer itself, or with its unit.
    pub fn judge(&self, typed: &str, unit: &str) -> Result<Judged, String> {
        self.question.judge(self.asked.ask, typed, unit)
    }

    /// Records the answer as one more try.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn record(
        self,
        tx: &mut SqliteConnection,
        id: OwnFigureId,
        answer: Answer,
        judged: Judged,
        at: Instant,
    ) -> Result<(), WriteError> {
        let (figure, attempt) = (self.asked.ask.figure, i64::try_from(self.asked.tries.len()).unwrap_or(0) + 1);
        let tried = Try {
            figure,
            attempt,
            question: self.question.words,
            answer: answer.typed,
            unit: answer.unit,
            working: answer.working,
            expected: self.question.expected,
            expected_by: self.question.expected_by,
            error_ppm: judged.error_ppm,
            tolerance_milli: self.asked.ask.tolerance_milli,
            outcome: judged.outcome,
            slip: judged.slip.to_owned(),
            tried_at: at,
        };
        own_figures::insert_try(tx, id, self.session, self.student, &tried).await?;
        let detail = format!("{}, try {attempt}: {}", figure.as_str(), judged.outcome.as_str());
        let actor = Actor::Student(self.student);
        change_log::insert(tx, at, actor, "own figure tried", "own_figure", id, &detail).await?;
        Ok(())
    }
}
