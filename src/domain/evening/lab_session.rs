//! A lab session: one evening of a section.

use jiff::civil::Date;

use crate::domain::{
    ids::{LabSessionId, PaperId, RubricId, SectionId, TrayLineId},
    instant::Instant,
};

/// Where a session is in its life.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SessionState {
    /// Being prepared; students see nothing of it.
    Planned,
    /// In progress.
    Open {
        /// Since when.
        opened_at: Instant,
    },
    /// Over; staff may still type in cards and give marks.
    Closed {
        /// When it was opened.
        opened_at: Instant,
        /// When it was closed.
        closed_at: Instant,
    },
}

/// A step from one state to another that is not allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a session that is {from} cannot be {asked}")]
pub struct WrongStep {
    /// The state it is in.
    pub from: &'static str,
    /// What was asked: opened, closed, reopened.
    pub asked: &'static str,
}

impl SessionState {
    /// The word for people, which is also the stored one.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Planned => "planned",
            Self::Open { .. } => "open",
            Self::Closed { .. } => "closed",
        }
    }

    /// Whether students can work in it.
    pub fn is_open(self) -> bool {
        matches!(self, Self::Open { .. })
    }

    /// Opens a planned session, or a closed one again.
    ///
    /// # Errors
    /// When it is open already.
    pub fn open(self, at: Instant) -> Result<Self, WrongStep> {
        match self {
            Self::Planned => Ok(Self::Open { opened_at: at }),
            Self::Closed { opened_at, .. } => Ok(Self::Open { opened_at }),
            Self::Open { .. } => Err(WrongStep { from: "open", asked: "opened" }),
        }
    }

    /// Closes an open session.
    ///
    /// # Errors
    /// When it is not open.
    pub fn close(self, at: Instant) -> Result<Self, WrongStep> {
        match self {
            Self::Open { opened_at } => Ok(Self::Closed { opened_at, closed_at: at }),
            Self::Planned | Self::Closed { .. } => Err(WrongStep { from: self.as_str(), asked: "closed" }),
        }
    }
}

/// A lab session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LabSession {
    /// Its id.
    pub id: LabSessionId,
    /// Whose evening it is.
    pub section: SectionId,
    /// What it is called.
    pub title: String,
    /// The date it is held.
    pub held_on: Date,
    /// The constant C of the lab's hole formula, thousandths.
    pub hole_constant_milli: i64,
    /// The wavelength of the lab's hole formula, nanometres.
    pub wavelength_nm: i64,
    /// The paper or film handed out.
    pub paper: PaperId,
    /// The trays used.
    pub tray_line: Option<TrayLineId>,
    /// What is marked.
    pub rubric: Option<RubricId>,
    /// What the report asks for.
    pub report_task: String,
    /// Where it is in its life.
    pub state: SessionState,
    /// Counts edits.
    pub version: i64,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minutes: i64) -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range").plus_minutes(minutes)
    }

    #[test]
    fn an_evening_is_opened_closed_and_may_be_opened_again() {
        let open = SessionState::Planned.open(at(0)).expect("planned sessions open");
        let closed = open.close(at(150)).expect("open sessions close");
        assert_eq!(closed, SessionState::Closed { opened_at: at(0), closed_at: at(150) });
        assert_eq!(closed.open(at(160)), Ok(SessionState::Open { opened_at: at(0) }));
    }

    #[test]
    fn steps_out_of_order_are_refused() {
        assert!(SessionState::Planned.close(at(0)).is_err());
        let open = SessionState::Open { opened_at: at(0) };
        assert_eq!(open.open(at(1)).expect_err("open already").to_string(), "a session that is open cannot be opened");
    }
}
