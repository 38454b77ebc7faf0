//! An example of site rules: figures from one country's federal rules (USA), each with its section,
//! the edition in which it was read and when it was last checked. Never advice, and nothing is loaded that nobody ticked:
//! which of them apply depends on the site, its state and its sewer authority.
//!
//! Only figures whose text was read are here; those known from memory alone are left out, among them
//! the 270 and 90 days of other generators and the limit of a very small one.

use super::site_rule::{Asks, RuleClock, SiteRule, Span};

/// The words that stand over the example wherever it is shown.
pub const VERIFY: &str = "Verify with your state, your sewer authority and your safety office.";

/// When every figure was last held against the text named beside it.
pub const CHECKED: &str = "25 November 2026";

/// Fifty-five US gallons of exactly 231 cubic inches, to the microlitre.
const GALLONS_55_UL: i64 = 208_197_648;

/// What an example sets when it is loaded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sets {
    /// A removal rule.
    Rule {
        /// What it asks.
        asks: Asks,
        /// Whether it ends with the next planned removal, if that comes first.
        or_next_visit: bool,
    },
    /// The site's own limit for silver, micrograms a litre.
    SilverLimit(i64),
    /// The title of waste labels.
    Title(&'static str),
    /// How many years papers are kept.
    KeepYears(i64),
    /// How many per cent of what stands here at the start of a year are to be recycled in it.
    Turnover(i64),
}

/// The kinds of generator whose rules take each other's place: a site is one of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GeneratorKind {
    /// The ordinary rules, with the term of a small quantity generator.
    SmallQuantity,
    /// An eligible academic laboratory that opted in, where the state adopted it (40 CFR 262.200 to 262.216).
    Academic,
}

impl GeneratorKind {
    /// Both.
    pub const ALL: [Self; 2] = [Self::SmallQuantity, Self::Academic];

    /// The word by which a form names it.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::SmallQuantity => "small quantity",
            Self::Academic => "academic",
        }
    }

    /// How a page names it.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::SmallQuantity => "the ordinary rules, with the term of a small quantity generator",
            Self::Academic => {
                "the rules of an eligible academic laboratory that opted in, where the state adopted them"
            }
        }
    }

    /// The one a form names.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.as_str() == word)
    }
}

/// One figure of the example.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ExampleRule {
    /// The word by which a form names it.
    pub key: &'static str,
    /// For whom it is, in words.
    pub applies: &'static str,
    /// What it says, in our words.
    pub says: &'static str,
    /// Its section.
    pub section: &'static str,
    /// The edition of the official register; it says where only a copy of it was read.
    pub edition: &'static str,
    /// What it sets.
    pub sets: Sets,
    /// The kind of generator it is for, where another kind has something else in its place.
    pub only_for: Option<GeneratorKind>,
}

impl ExampleRule {
    /// The source that is stored with what it sets.
    pub fn source(&self) -> String {
        format!("example: {}, {}, checked {CHECKED}. {VERIFY}", self.section, self.edition)
    }

    /// The one a form names.
    pub fn from_key(key: &str) -> Option<&'static Self> {
        EXAMPLE.iter().find(|rule| rule.key == key)
    }
}

/// The rule among those in force that came from the example for another kind than `chosen`: both side by side
/// would count down to the wrong day.
pub fn of_another_kind(chosen: GeneratorKind, in_force: &[SiteRule]) -> Option<&SiteRule> {
    in_force.iter().find(|rule| {
        EXAMPLE.iter().filter(|example| example.only_for.is_some_and(|kind| kind != chosen)).any(|example| {
            // the section is in the source; a rule that asks the same on other grounds is the site's to judge
            rule.source.contains(example.section)
                && matches!(example.sets, Sets::Rule { asks, or_next_visit }
                    if (asks, or_next_visit) == (rule.asks, rule.or_next_visit))
        })
    })
}

const fn rule(asks: Asks) -> Sets {
    Sets::Rule { asks, or_next_visit: false }
}

/// The example.
pub const EXAMPLE: [ExampleRule; 9] = [
    ExampleRule {
        key: "satellite",
        applies: "a place where waste first gathers, under the control of whoever makes it",
        says: "at most 55 gal of waste that is not acute; what is past that is out within three consecutive calendar days",
        section: "40 CFR 262.15(a)",
        edition: "81 FR 85732 (28 November 2016), read in a copy",
        sets: rule(Asks::AtMost { volume_ul: GALLONS_55_UL, within: Some(Span::Days(3)) }),
        only_for: Some(GeneratorKind::SmallQuantity),
    },
    ExampleRule {
        key: "small-180",
        applies: "a site that is a small quantity generator",
        says: "180 days from the day accumulation began",
        section: "40 CFR 262.16(b)",
        edition: "81 FR 85732 (28 November 2016), read in a copy",
        sets: rule(Asks::GoneWithin { clock: RuleClock::FirstDrop, span: Span::Days(180) }),
        only_for: Some(GeneratorKind::SmallQuantity),
    },
    ExampleRule {
        key: "academic-12-months",
        applies: "an eligible academic laboratory that opted in, where the state adopted it",
        says: "removal within twelve months of each container’s accumulation start",
        section: "40 CFR 262.208(a)(2)",
        edition: "eCFR up to date as of 10 June 2026",
        sets: rule(Asks::GoneWithin { clock: RuleClock::FirstDrop, span: Span::Months(12) }),
        only_for: Some(GeneratorKind::Academic),
    },
    ExampleRule {
        key: "academic-55-gal",
        applies: "an eligible academic laboratory that opted in, where the state adopted it",
        says: "past 55 gal: out within 10 calendar days or at the next planned removal, whichever comes first",
        section: "40 CFR 262.208(d)(1)",
        edition: "eCFR up to date as of 10 June 2026",
        sets: Sets::Rule {
            asks: Asks::AtMost { volume_ul: GALLONS_55_UL, within: Some(Span::Days(10)) },
            or_next_visit: true,
        },
        only_for: Some(GeneratorKind::Academic),
    },
    ExampleRule {
        key: "silver-5",
        applies: "whoever must find out whether a liquid is toxic waste by its silver",
        says: "5.0 mg/L or more",
        section: "40 CFR 261.24(a), Table 1",
        edition: "annual CFR of 1 July 2004; the row of silver read in a copy",
        sets: Sets::SilverLimit(5_000),
        only_for: None,
    },
    ExampleRule {
        key: "title",
        applies: "containers where waste first gathers",
        says: "the words “Hazardous Waste” and an indication of the hazards",
        section: "40 CFR 262.15(a)(5)",
        edition: "81 FR 85732 (28 November 2016), read in a copy",
        sets: Sets::Title("Hazardous Waste"),
        only_for: Some(GeneratorKind::SmallQuantity),
    },
    ExampleRule {
        key: "title-academic",
        applies: "an eligible academic laboratory that opted in, where the state adopted it",
        says: "the words “unwanted material”, or another fixed term of the same meaning",
        section: "40 CFR 262.206(a)(1)(i)",
        edition: "81 FR 85732 (28 November 2016), read in a copy",
        sets: Sets::Title("Unwanted material"),
        only_for: Some(GeneratorKind::Academic),
    },
    ExampleRule {
        key: "keep-3",
        applies: "signed manifests",
        says: "three years from the day the first carrier accepted the waste",
        section: "40 CFR 262.40(a)",
        edition: "eCFR up to date as of 20 June 2026, read in a copy",
        sets: Sets::KeepYears(3),
        only_for: None,
    },
    ExampleRule {
        key: "turnover-75",
        applies: "whoever gathers material to have it recycled, silver among it",
        says: "at least 75 % of what stands there at the start of a calendar year is recycled in it",
        section: "40 CFR 261.1(c)(8)",
        edition: "annual CFR 2015; amended since, elsewhere",
        sets: Sets::Turnover(75),
        only_for: None,
    },
];

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::*;
    use crate::domain::{
        ids::{Id, SiteId, SiteRuleId},
        instant::Instant,
        measure::volume,
    };

    #[test]
    fn every_figure_names_its_section_its_edition_and_when_it_was_read() {
        for rule in EXAMPLE {
            assert!(rule.section.starts_with("40 CFR 26"), "{}", rule.key);
            assert!(rule.edition.len() > 5 && rule.source().contains("checked 25 November 2026"), "{}", rule.key);
            assert!(rule.source().contains("your state, your sewer authority and your safety office"), "{}", rule.key);
            assert!(!rule.says.contains("drain") && !rule.says.contains("memory"), "{}", rule.key);
            assert_eq!(ExampleRule::from_key(rule.key).map(|found| found.section), Some(rule.section));
        }
    }

    /// What was known from memory alone: 40 CFR 262.16(c) (270 days), 262.17(a) (90 days).
    #[test]
    fn figures_known_from_memory_alone_are_left_out() {
        let spans: Vec<Asks> = EXAMPLE
            .iter()
            .filter_map(|rule| match rule.sets {
                Sets::Rule { asks, .. } => Some(asks),
                _ => None,
            })
            .collect();
        for days in [90, 270] {
            assert!(!spans.contains(&Asks::GoneWithin { clock: RuleClock::FirstDrop, span: Span::Days(days) }));
        }
    }

    #[test]
    fn what_is_only_for_one_kind_is_seen_when_the_other_is_chosen() {
        let example = ExampleRule::from_key("small-180").expect("it is there");
        let Sets::Rule { asks, or_next_visit } = example.sets else { panic!("it is a removal rule") };
        let entered_at = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        let (id, site) = (SiteRuleId::from_uuid(Uuid::nil()), SiteId::from_uuid(Uuid::nil()));
        let rule = SiteRule { id, site, asks, or_next_visit, source: example.source(), entered_at };
        let own = SiteRule { source: "letter of the safety office".to_owned(), ..rule.clone() };
        let in_force = [own.clone(), rule.clone()];
        assert_eq!(of_another_kind(GeneratorKind::Academic, &in_force), Some(&rule));
        assert_eq!(of_another_kind(GeneratorKind::SmallQuantity, &in_force), None);
        assert_eq!(of_another_kind(GeneratorKind::Academic, &[own]), None, "the site's own stands");
    }

    #[test]
    fn fifty_five_gallons_are_what_a_bottle_calls_them() {
        assert_eq!(volume::read("55 gal", 1, volume::MOST_UL), Ok(GALLONS_55_UL));
    }
}
