//! What a waste container holds, by everything that ever went into it, and what may not meet it.

use super::container::Contents;
use crate::domain::stock::product::ProductKind;

/// One kind of thing in a container.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Held {
    /// A bath of a kind.
    Bath(ProductKind),
    /// The first rinse after the fixer: thin fixer.
    Rinse,
    /// Sheets of film and paper.
    Scrap,
    /// Something that stood there when the book was begun, under a label that does not say what.
    Unknown,
}

impl Held {
    /// What stood in a container when the book was begun, as far as its label says it.
    pub fn by_label(contents: Contents) -> Self {
        match contents {
            Contents::SpentFixer => Self::Bath(ProductKind::Fixer),
            Contents::FirstRinse => Self::Rinse,
            Contents::Developer => Self::Bath(ProductKind::Developer),
            Contents::StopBath => Self::Bath(ProductKind::StopBath),
            Contents::Bleach => Self::Bath(ProductKind::Bleach),
            Contents::Scrap => Self::Scrap,
            Contents::Mixed => Self::Unknown,
        }
    }

    /// For people, as a label names it.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Bath(ProductKind::Developer) => "developer",
            Self::Bath(ProductKind::StopBath) => "stop bath",
            Self::Bath(ProductKind::Fixer) => "fixer",
            Self::Bath(ProductKind::WashingAid) => "washing aid",
            Self::Bath(ProductKind::Bleach) => "bleach",
            Self::Rinse => "first rinse after the fixer",
            Self::Scrap => "scrap film and paper",
            Self::Unknown => "something from before the book, not known what",
        }
    }

    /// Sour: it gives off gas where it meets developer.
    fn is_sour(self) -> bool {
        matches!(self, Self::Bath(ProductKind::StopBath | ProductKind::Fixer) | Self::Rinse)
    }

    /// Whether a label covers it.
    fn is_covered_by(self, contents: Contents) -> bool {
        match self {
            Self::Bath(kind) => contents.allows(kind),
            Self::Rinse => matches!(contents, Contents::FirstRinse | Contents::SpentFixer | Contents::Mixed),
            Self::Scrap => contents == Contents::Scrap,
            Self::Unknown => false,
        }
    }
}

const BLEACH: &str = "bleach meets nothing else: with acids it can give off toxic gas, with fixer and developer it \
                      reacts: keep it in a container of its own";
const SOUR_INTO_DEVELOPER: &str = "stop bath or fixer in developer can give off irritating gases such as sulphur \
                                   dioxide: keep them in containers of their own";
const DEVELOPER_INTO_SOUR: &str = "developer in stop bath or fixer can give off irritating gases such as sulphur \
                                   dioxide: keep them in containers of their own";

/// Why something should not go into a container; staff may decide otherwise and say why.
///
/// `holds` is everything that ever went into it, also against an earlier objection: what was mixed
/// once is judged as mixed for good.
pub fn objection(new: Held, contents: Contents, holds: &[Held]) -> Option<&'static str> {
    let labelled = (contents != Contents::Mixed).then(|| Held::by_label(contents));
    let there = |test: fn(Held) -> bool| labelled.into_iter().chain(holds.iter().copied()).any(test);
    let is_bleach = |held: Held| held == Held::Bath(ProductKind::Bleach);
    let is_developer = |held: Held| held == Held::Bath(ProductKind::Developer);
    let meets_bleach =
        if is_bleach(new) { there(|held| held != Held::Bath(ProductKind::Bleach)) } else { there(is_bleach) };
    if meets_bleach {
        Some(BLEACH)
    } else if new.is_sour() && there(is_developer) {
        Some(SOUR_INTO_DEVELOPER)
    } else if is_developer(new) && there(Held::is_sour) {
        Some(DEVELOPER_INTO_SOUR)
    } else if new == Held::Unknown {
        Some("what is poured is not known: it stood in its container when the book was begun")
    } else if holds.contains(&Held::Unknown) {
        Some("what is in it already is not known: something stood in it when the book was begun")
    } else if contents == Contents::Scrap && new != Held::Scrap {
        Some("it is for sheets of film and paper, not for liquids: choose a container for liquids")
    } else if new == Held::Scrap && contents != Contents::Scrap {
        Some("scrap film and paper go into a container of their own")
    } else if !new.is_covered_by(contents) {
        Some("the container’s label says something else: what is in it must be what its label says")
    } else {
        None
    }
}

/// What a label must name beside what the container is for: whatever went in against it.
pub fn beside_its_label(contents: Contents, holds: &[Held]) -> Vec<&'static str> {
    let mut others: Vec<Held> =
        holds.iter().copied().filter(|held| contents == Contents::Mixed || !held.is_covered_by(contents)).collect();
    others.sort_unstable();
    others.dedup();
    others.into_iter().map(Held::in_words).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::stock::product::ProductKind::{Bleach, Developer, Fixer, StopBath, WashingAid};

    fn bath(kind: ProductKind) -> Held {
        Held::Bath(kind)
    }

    #[test]
    fn stop_bath_and_fixer_never_go_into_developer_nor_the_other_way_round() {
        for sour in [bath(StopBath), bath(Fixer), Held::Rinse] {
            let said = objection(sour, Contents::Developer, &[]).expect("an objection");
            assert!(said.contains("sulphur dioxide"), "{said}");
            // a container called mixed is judged by what is in it
            assert!(objection(sour, Contents::Mixed, &[bath(Developer)]).is_some(), "{sour:?}");
            assert!(objection(bath(Developer), Contents::Mixed, &[sour]).is_some(), "{sour:?}");
            assert!(objection(sour, Contents::Mixed, &[]).is_none(), "{sour:?}");
        }
        assert!(objection(bath(Developer), Contents::SpentFixer, &[]).is_some());
        assert!(objection(bath(Developer), Contents::FirstRinse, &[]).is_some());
    }

    /// Acids and bleach: the rule of keeping them apart is on safety data sheets of bleaches; common
    /// practice, no source seen.
    #[test]
    fn bleach_meets_nothing_but_bleach() {
        for contents in [Contents::SpentFixer, Contents::Developer, Contents::StopBath, Contents::FirstRinse] {
            let said = objection(bath(Bleach), contents, &[]);
            assert!(said.is_some_and(|said| said.contains("bleach meets")), "{contents:?}");
        }
        for other in [bath(Developer), bath(Fixer), bath(StopBath), Held::Rinse] {
            let said = objection(other, Contents::Bleach, &[]);
            assert!(said.is_some_and(|said| said.contains("bleach meets")), "{other:?}");
            assert!(objection(other, Contents::Mixed, &[bath(Bleach)]).is_some(), "{other:?}");
            assert!(objection(bath(Bleach), Contents::Mixed, &[other]).is_some(), "{other:?}");
        }
        assert_eq!(objection(bath(Bleach), Contents::Bleach, &[bath(Bleach)]), None);
        assert_eq!(objection(bath(Bleach), Contents::Mixed, &[]), None, "an empty container called mixed");
    }

    #[test]
    fn what_was_mixed_against_an_objection_is_judged_as_mixed_for_good() {
        // somebody poured developer into spent fixer and said why: more fixer meets developer now
        let said = objection(bath(Fixer), Contents::SpentFixer, &[bath(Fixer), bath(Developer)]);
        assert!(said.is_some_and(|said| said.contains("sulphur dioxide")), "{said:?}");
        let said = objection(Held::Rinse, Contents::SpentFixer, &[bath(Bleach)]);
        assert!(said.is_some_and(|said| said.contains("bleach meets")), "{said:?}");
    }

    #[test]
    fn what_nobody_knows_meets_nothing_without_a_reason() {
        assert!(objection(bath(Fixer), Contents::Mixed, &[Held::Unknown]).is_some());
        assert!(objection(Held::Unknown, Contents::Mixed, &[]).is_some());
        assert_eq!(Held::by_label(Contents::Mixed), Held::Unknown);
    }

    #[test]
    fn nothing_is_poured_over_scrap_and_no_scrap_goes_into_liquids() {
        for kind in ProductKind::ALL {
            assert!(objection(bath(kind), Contents::Scrap, &[]).is_some(), "{kind:?}");
        }
        assert!(objection(Held::Scrap, Contents::SpentFixer, &[]).is_some());
        assert_eq!(objection(Held::Scrap, Contents::Scrap, &[Held::Scrap]), None);
    }

    #[test]
    fn what_a_label_says_goes_in_without_a_word() {
        assert_eq!(objection(bath(Fixer), Contents::SpentFixer, &[bath(Fixer)]), None);
        assert_eq!(objection(bath(WashingAid), Contents::SpentFixer, &[bath(Fixer)]), None);
        assert_eq!(objection(bath(Developer), Contents::Developer, &[bath(Developer)]), None);
        assert_eq!(objection(Held::Rinse, Contents::FirstRinse, &[Held::Rinse]), None);
        assert_eq!(objection(Held::Rinse, Contents::SpentFixer, &[bath(Fixer)]), None);
        assert!(objection(bath(StopBath), Contents::SpentFixer, &[]).is_some_and(|said| said.contains("label")));
        assert!(objection(bath(Fixer), Contents::FirstRinse, &[]).is_some_and(|said| said.contains("label")));
    }

    #[test]
    fn a_label_names_what_went_in_against_it() {
        let holds = [bath(Fixer), bath(Developer), bath(Developer), Held::Rinse];
        assert_eq!(beside_its_label(Contents::SpentFixer, &holds), ["developer"]);
        assert_eq!(beside_its_label(Contents::SpentFixer, &[bath(Fixer)]), [""; 0]);
        assert_eq!(beside_its_label(Contents::Mixed, &[bath(Fixer), bath(StopBath)]), ["stop bath", "fixer"]);
    }
}
