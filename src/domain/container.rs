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

    /// What kind of bath it counts as when it is poured on, if it can be said.
    pub fn kind(self) -> Option<ProductKind> {
        match self {
            Self::SpentFixer | Self::FirstRinse => Some(ProductKind::Fixer),
            Self::Developer => Some(ProductKind::Developer),
            Self::StopBath => Some(ProductKind::StopBath),
            Self::Bleach => Some(ProductKind::Bleach),
            Self::Mixed | Self::Scrap => None,
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
    /// When it was moved to where containers are collected.
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

    /// Whether more may be poured in.
    pub fn takes_more(&self) -> bool {
        self.state == ContainerState::Filling && self.put_away_at.is_none()
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

/// Why a bath should not go into a container; staff may decide otherwise and say why.
///
/// `holds` is what was poured into it before.
pub fn objection(kind: ProductKind, contents: Contents, holds: &[ProductKind]) -> Option<&'static str> {
    let bleach_there = contents == Contents::Bleach || holds.contains(&ProductKind::Bleach);
    let other_there = holds.iter().any(|kind| *kind != ProductKind::Bleach)
        || !matches!(contents, Contents::Bleach | Contents::Mixed);
    let bleach = kind == ProductKind::Bleach;
    if (bleach && other_there) || (!bleach && bleach_there) {
        return Some(
            "bleach meets nothing else: with acids it can give off toxic gas, with fixer and developer it reacts: keep it \
             in a container of its own",
        );
    }
    let acid = |kind: &ProductKind| matches!(kind, ProductKind::StopBath | ProductKind::Fixer);
    let developer = contents == Contents::Developer || holds.contains(&ProductKind::Developer);
    let sour =
        matches!(contents, Contents::StopBath | Contents::SpentFixer | Contents::FirstRinse) || holds.iter().any(acid);
    if acid(&kind) && developer {
        Some(
            "stop bath or fixer in developer can give off irritating gases such as sulphur dioxide: keep them in containers of their own",
        )
    } else if kind == ProductKind::Developer && sour {
        Some(
            "developer in stop bath or fixer can give off irritating gases such as sulphur dioxide: keep them in containers of their own",
        )
    } else if contents == Contents::Scrap {
        Some("it is for sheets of film and paper, not for liquids: choose a container for liquids")
    } else if !contents.allows(kind) {
        Some("the container's label says something else: what is in it must be what its label says")
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stop_bath_and_fixer_never_go_into_developer_nor_the_other_way_round() {
        use ProductKind::{Developer, Fixer, StopBath};
        for kind in [StopBath, Fixer] {
            let said = objection(kind, Contents::Developer, &[]).expect("an objection");
            assert!(said.contains("sulphur dioxide"), "{said}");
            // a container called mixed is judged by what is in it
            assert!(objection(kind, Contents::Mixed, &[Developer]).is_some(), "{kind:?}");
            assert!(objection(kind, Contents::Mixed, &[]).is_none(), "{kind:?}");
        }
        assert!(objection(Developer, Contents::SpentFixer, &[]).is_some());
        assert!(objection(Developer, Contents::Mixed, &[StopBath]).is_some());
    }

    /// Acids and bleach: the rule of keeping them apart is on safety data sheets of bleaches; common
    /// practice, no source seen.
    #[test]
    fn bleach_meets_nothing_but_bleach() {
        use ProductKind::{Bleach, Developer, Fixer, StopBath};
        for contents in [Contents::SpentFixer, Contents::Developer, Contents::StopBath, Contents::FirstRinse] {
            assert!(objection(Bleach, contents, &[]).is_some_and(|said| said.contains("bleach meets")), "{contents:?}");
        }
        for kind in [Developer, Fixer, StopBath] {
            assert!(
                objection(kind, Contents::Bleach, &[]).is_some_and(|said| said.contains("bleach meets")),
                "{kind:?}"
            );
            assert!(objection(kind, Contents::Mixed, &[Bleach]).is_some(), "{kind:?}");
            assert!(objection(Bleach, Contents::Mixed, &[kind]).is_some(), "{kind:?}");
        }
        assert_eq!(objection(Bleach, Contents::Bleach, &[]), None);
        assert_eq!(objection(Bleach, Contents::Bleach, &[Bleach]), None);
        assert_eq!(objection(Bleach, Contents::Mixed, &[]), None, "an empty container called mixed");
    }

    #[test]
    fn nothing_is_poured_over_scrap() {
        for kind in ProductKind::ALL {
            assert!(objection(kind, Contents::Scrap, &[]).is_some(), "{kind:?}");
        }
    }

    #[test]
    fn what_a_label_says_goes_in_without_a_word() {
        assert_eq!(objection(ProductKind::Fixer, Contents::SpentFixer, &[ProductKind::Fixer]), None);
        assert_eq!(objection(ProductKind::Developer, Contents::Developer, &[ProductKind::Developer]), None);
        assert!(objection(ProductKind::StopBath, Contents::SpentFixer, &[]).is_some_and(|said| said.contains("label")));
    }
}
