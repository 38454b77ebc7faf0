//! A waste container: what it is for, how full it is, and by when it must be gone.

use super::{
    ids::{ContainerId, SiteId},
    instant::Instant,
    product::ProductKind,
    site_rule::RuleClock,
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
    pub state: ContainerState,
    /// Accumulation start: the first drop, as it happened.
    pub first_drop_at: Option<Instant>,
    /// When it was full.
    pub full_at: Option<Instant>,
    /// When it was moved to where containers are taken away.
    pub moved_at: Option<Instant>,
    /// Set up by mistake and put away, empty.
    pub put_away_at: Option<Instant>,
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

    /// Whether a carrier took it.
    pub fn is_removed(&self) -> bool {
        matches!(self.state, ContainerState::Removed { .. })
    }

    /// Whether more may be poured in: it stands here, where waste gathers, and is not full.
    pub fn takes_more(&self) -> bool {
        self.state == ContainerState::Filling && self.put_away_at.is_none() && self.moved_at.is_none()
    }

    /// Why nothing can go into it at a moment, if nothing can. What went in before it was moved, and is
    /// only written down now, still did.
    pub fn closed_to(&self, at: Instant) -> Option<String> {
        let name = self.name();
        match self.state {
            ContainerState::Full => Some(format!("{name} is full: choose another")),
            ContainerState::Removed { .. } => Some(format!("{name} was removed: choose another")),
            ContainerState::Filling if self.put_away_at.is_some() => {
                Some(format!("{name} was put away: take it out again first"))
            }
            ContainerState::Filling if self.moved_at.is_some_and(|moved| at >= moved) => {
                Some(format!("{name} was moved to where containers are taken away: choose another"))
            }
            ContainerState::Filling => None,
        }
    }

    /// When a removal rule's clock began, if it did.
    pub fn clock(&self, clock: RuleClock) -> Option<Instant> {
        match clock {
            RuleClock::FirstDrop => self.first_drop_at,
            RuleClock::Full => self.full_at,
            RuleClock::Moved => self.moved_at,
        }
    }
}
