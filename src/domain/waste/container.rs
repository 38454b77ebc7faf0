//! A waste container: what it is for, how full it is, and by when it must be gone.

use crate::domain::{
    ids::{ContainerId, SiteId},
    instant::Instant,
    site::site_rule::RuleClock,
    stock::product::ProductKind,
};

/// What a container is for, as its label says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Contents {
    /// Spent fixer: has silver in it.
    SpentFixer,
    /// The first rinse after the fixer.
    FirstRinse,
    /// Developer.
    Developer,
    /// Stop bath.
    StopBath,
    /// Bleach, in a container of its own.
    Bleach,
    /// Several, by decision of the site.
    Mixed,
    /// Film and paper thrown away, with the silver still in it.
    Scrap,
}

impl Contents {
    /// All of them.
    pub const ALL: [Self; 7] =
        [Self::SpentFixer, Self::FirstRinse, Self::Developer, Self::StopBath, Self::Bleach, Self::Mixed, Self::Scrap];

    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::SpentFixer => "spent fixer",
            Self::FirstRinse => "first rinse",
            Self::Developer => "developer",
            Self::StopBath => "stop bath",
            Self::Bleach => "bleach",
            Self::Mixed => "mixed",
            Self::Scrap => "scrap film and paper",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|contents| contents.as_str() == word)
    }

    /// What a bath of a kind is when it is waste.
    pub fn of_bath(kind: ProductKind) -> Self {
        match kind {
            ProductKind::Developer => Self::Developer,
            ProductKind::StopBath => Self::StopBath,
            ProductKind::Fixer | ProductKind::WashingAid => Self::SpentFixer,
            ProductKind::Bleach => Self::Bleach,
        }
    }

    /// What is in it, as a label says it.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::SpentFixer => "spent photographic fixer, contains silver",
            Self::FirstRinse => "first rinse after photographic fixer, contains silver",
            Self::Developer => "spent photographic developer",
            Self::StopBath => "spent photographic stop bath",
            Self::Bleach => "spent photographic bleach",
            Self::Mixed => "mixed photographic solutions",
            Self::Scrap => "scrap photographic film and paper, contains silver",
        }
    }

    /// What kinds of bath its label allows for.
    pub fn allows(self, kind: ProductKind) -> bool {
        match self {
            Self::SpentFixer => matches!(kind, ProductKind::Fixer | ProductKind::WashingAid),
            Self::FirstRinse => kind == ProductKind::WashingAid,
            Self::Developer => kind == ProductKind::Developer,
            Self::StopBath => kind == ProductKind::StopBath,
            Self::Bleach => kind == ProductKind::Bleach,
            Self::Mixed => true,
            Self::Scrap => false,
        }
    }
}

/// A container's life.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ContainerState {
    /// It takes more.
    Filling,
    /// It takes no more and waits to be moved or removed.
    Full,
    /// A carrier took it.
    Removed {
        /// When.
        at: Instant,
    },
}

impl ContainerState {
    /// The stored word, which is also the word for people.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Filling => "filling",
            Self::Full => "full",
            Self::Removed { .. } => "removed",
        }
    }
}

/// What a container was marked while it stood here.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Marks {
    /// Since when it is full.
    pub full_at: Option<Instant>,
    /// When it was moved to where containers are taken away.
    pub moved_at: Option<Instant>,
}

/// A container's life: where it is, and how it stood when it left. What leaves keeps its marks, so that
/// taking that back needs no guess.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Life {
    /// It stands here.
    Here(Marks),
    /// Set up by mistake and put away, empty.
    PutAway {
        /// When.
        at: Instant,
        /// As it stood.
        stood: Marks,
    },
    /// A carrier took it.
    Removed {
        /// When.
        at: Instant,
        /// As it stood.
        stood: Marks,
    },
}

/// A container that is not where a change of its life begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("its life does not go on like that")]
pub struct NotItsLife;

impl Life {
    /// Just set up.
    pub const NEW: Self = Self::Here(Marks { full_at: None, moved_at: None });

    /// From the stored word and instants; nothing when they do not belong together.
    pub fn from_parts(
        state: &str,
        marks: Marks,
        removed_at: Option<Instant>,
        put_away_at: Option<Instant>,
    ) -> Option<Self> {
        match (state, removed_at, put_away_at) {
            ("removed", Some(at), None) => Some(Self::Removed { at, stood: marks }),
            ("filling", None, put_away) if marks.full_at.is_none() => Some(Self::here_or(put_away, marks)),
            ("full", None, put_away) if marks.full_at.is_some() => Some(Self::here_or(put_away, marks)),
            _ => None,
        }
    }

    fn here_or(put_away: Option<Instant>, marks: Marks) -> Self {
        put_away.map_or(Self::Here(marks), |at| Self::PutAway { at, stood: marks })
    }

    /// What it was marked, wherever it is now.
    pub fn marks(self) -> Marks {
        match self {
            Self::Here(marks) | Self::PutAway { stood: marks, .. } | Self::Removed { stood: marks, .. } => marks,
        }
    }

    /// Marked anew.
    ///
    /// # Errors
    /// When it does not stand here.
    pub fn marked(self, marks: impl FnOnce(Marks) -> Marks) -> Result<Self, NotItsLife> {
        match self {
            Self::Here(stood) => Ok(Self::Here(marks(stood))),
            Self::PutAway { .. } | Self::Removed { .. } => Err(NotItsLife),
        }
    }

    /// Taken away by a carrier.
    ///
    /// # Errors
    /// When it does not stand here.
    pub fn removed(self, at: Instant) -> Result<Self, NotItsLife> {
        match self {
            Self::Here(stood) => Ok(Self::Removed { at, stood }),
            Self::PutAway { .. } | Self::Removed { .. } => Err(NotItsLife),
        }
    }

    /// Its removal is taken back: it stands here as it stood.
    ///
    /// # Errors
    /// When it was not removed.
    pub fn brought_back(self) -> Result<Self, NotItsLife> {
        match self {
            Self::Removed { stood, .. } => Ok(Self::Here(stood)),
            Self::Here(_) | Self::PutAway { .. } => Err(NotItsLife),
        }
    }

    /// Put away, empty.
    ///
    /// # Errors
    /// When it does not stand here.
    pub fn put_away(self, at: Instant) -> Result<Self, NotItsLife> {
        match self {
            Self::Here(stood) => Ok(Self::PutAway { at, stood }),
            Self::PutAway { .. } | Self::Removed { .. } => Err(NotItsLife),
        }
    }

    /// Taken out again.
    ///
    /// # Errors
    /// When it was not put away.
    pub fn taken_out(self) -> Result<Self, NotItsLife> {
        match self {
            Self::PutAway { stood, .. } => Ok(Self::Here(stood)),
            Self::Here(_) | Self::Removed { .. } => Err(NotItsLife),
        }
    }

    /// What state that is, for people and for storage.
    pub fn state(self) -> ContainerState {
        match self {
            Self::Removed { at, .. } => ContainerState::Removed { at },
            Self::Here(marks) | Self::PutAway { stood: marks, .. } if marks.full_at.is_some() => ContainerState::Full,
            Self::Here(_) | Self::PutAway { .. } => ContainerState::Filling,
        }
    }
}

/// A waste container.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Container {
    /// Its id.
    pub id: ContainerId,
    /// Where it stands.
    pub site: SiteId,
    /// The number on its label.
    pub label_number: i64,
    /// What it is for.
    pub contents: Contents,
    /// The hazards in words, as the label must carry them; empty until somebody enters them.
    pub hazards: String,
    /// Where it stands, in words.
    pub place: String,
    /// How much it takes, microlitres.
    pub capacity_ul: i64,
    /// Its life.
    pub life: Life,
    /// Accumulation start: the first drop, as it happened.
    pub first_drop_at: Option<Instant>,
    /// Counts edits.
    pub version: i64,
}

impl Container {
    /// For people: `waste container 2`.
    pub fn name(&self) -> String {
        format!("waste container {}", self.label_number)
    }

    /// [`Self::name`] at the beginning of a line: `Waste container 2`.
    pub fn title(&self) -> String {
        let name = self.name();
        let (first, rest) = name.split_at(1);
        format!("{}{rest}", first.to_uppercase())
    }

    /// Its state.
    pub fn state(&self) -> ContainerState {
        self.life.state()
    }

    /// Since when it is full, or was when it left.
    pub fn full_at(&self) -> Option<Instant> {
        self.life.marks().full_at
    }

    /// When it was moved to where containers are taken away.
    pub fn moved_at(&self) -> Option<Instant> {
        self.life.marks().moved_at
    }

    /// Whether a carrier took it.
    pub fn is_removed(&self) -> bool {
        matches!(self.life, Life::Removed { .. })
    }

    /// Whether it was set up by mistake and put away.
    pub fn is_put_away(&self) -> bool {
        matches!(self.life, Life::PutAway { .. })
    }

    /// Whether more may be poured in: it stands here, where waste gathers, and is not full.
    pub fn takes_more(&self) -> bool {
        self.life == Life::NEW
    }

    /// Why nothing can go into it at a moment, if nothing can. What went in before it was moved, and is
    /// only written down now, still did.
    pub fn closed_to(&self, at: Instant) -> Option<String> {
        let name = self.name();
        match self.life {
            Life::Removed { .. } => Some(format!("{name} was removed: choose another")),
            Life::PutAway { .. } => Some(format!("{name} was put away: take it out again first")),
            Life::Here(marks) if marks.full_at.is_some() => Some(format!("{name} is full: choose another")),
            Life::Here(marks) if marks.moved_at.is_some_and(|moved| at >= moved) => {
                Some(format!("{name} was moved to where containers are taken away: choose another"))
            }
            Life::Here(_) => None,
        }
    }

    /// When a removal rule's clock began, if it did.
    pub fn clock(&self, clock: RuleClock) -> Option<Instant> {
        match clock {
            RuleClock::FirstDrop => self.first_drop_at,
            RuleClock::Full => self.full_at(),
            RuleClock::Moved => self.moved_at(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minutes: i64) -> Instant {
        Instant::from_micros(1_774_029_600_000_000).expect("in range").plus_minutes(minutes)
    }

    #[test]
    fn a_container_that_comes_back_stands_as_it_stood() {
        let full = Life::NEW.marked(|marks| Marks { full_at: Some(at(1)), ..marks }).expect("here");
        let gone = full.removed(at(2)).expect("here");
        assert_eq!(gone.state(), ContainerState::Removed { at: at(2) });
        assert_eq!(gone.brought_back(), Ok(full));
        assert_eq!(gone.removed(at(3)), Err(NotItsLife), "once");
        assert_eq!(gone.marked(|marks| marks), Err(NotItsLife));
        let moved =
            full.marked(|marks| Marks { full_at: None, ..Marks { moved_at: Some(at(4)), ..marks } }).expect("here");
        assert_eq!(moved.put_away(at(5)).and_then(Life::taken_out), Ok(moved));
        assert_eq!(moved.brought_back(), Err(NotItsLife));
    }

    #[test]
    fn what_is_stored_is_one_life_or_none() {
        let marks = Marks { full_at: Some(at(1)), moved_at: None };
        assert_eq!(Life::from_parts("full", marks, None, None), Some(Life::Here(marks)));
        assert_eq!(Life::from_parts("filling", marks, None, None), None, "full and not full");
        assert_eq!(Life::from_parts("removed", marks, None, None), None, "when?");
        assert_eq!(Life::from_parts("full", Marks::default(), None, None), None, "since when?");
        let gone = Life::Removed { at: at(2), stood: marks };
        assert_eq!(Life::from_parts("removed", marks, Some(at(2)), None), Some(gone));
    }
}
