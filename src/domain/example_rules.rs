//! An example of site rules: figures from one country's federal rules (USA), each with its section,
//! the edition in which it was read and when. Never advice, and nothing is loaded that nobody ticked:
//! which of them apply depends on the site, its state and its sewer authority.
//!
//! Only figures whose text was read are here; those known from memory alone are left out, among them
//! the 270 and 90 days of other generators and the limit of a very small one.

use super::site_rule::{Asks, RuleClock, Span};

/// The words that stand over the example wherever it is shown.
pub const VERIFY: &str = "Verify with your state, your sewer authority and your safety office.";

/// When the texts were read.
pub const READ: &str = "November 2026";

/// Fifty-five US gallons of exactly 231 cubic inches, to the microlitre.
const GALLONS_55_UL: i64 = 208_197_648;

/// What an example sets when it is loaded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sets {
    /// A removal rule.
    Rule(Asks),
    /// The site's own limit for silver, micrograms a litre.
    SilverLimit(i64),
    /// The title of waste labels.
    Title(&'static str),
    /// How many years papers are kept.
    KeepYears(i64),
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
    /// The edition in which it was read.
    pub edition: &'static str,
    /// What it sets.
    pub sets: Sets,
}

impl ExampleRule {
    /// The source that is stored with what it sets.
    pub fn source(&self) -> String {
        format!("example: {}, {}, read {READ}. {VERIFY}", self.section, self.edition)
    }

    /// The one a form names.
    pub fn from_key(key: &str) -> Option<&'static Self> {
        EXAMPLE.iter().find(|rule| rule.key == key)
    }
}

/// The example.
pub const EXAMPLE: [ExampleRule; 8] = [
    ExampleRule {
        key: "satellite",
        applies: "a place where waste first gathers, under the control of whoever makes it",
        says: "at most 55 gal of waste that is not acute; what is past that is out within three consecutive calendar days",
        section: "40 CFR 262.15(a)",
        edition: "read in state texts that copy it (NR 662.015, 22 CCR 66262.15) and an agency memo",
        sets: Sets::Rule(Asks::AtMost { volume_ul: GALLONS_55_UL, within: Some(Span::Days(3)) }),
    },
    ExampleRule {
        key: "small-180",
        applies: "a site that is a small quantity generator",
        says: "180 days from the day accumulation began",
        section: "40 CFR 262.16(b)",
        edition: "as quoted by a compliance service",
        sets: Sets::Rule(Asks::GoneWithin { clock: RuleClock::FirstDrop, span: Span::Days(180) }),
    },
    ExampleRule {
        key: "academic-12-months",
        applies: "an eligible academic laboratory that opted in, where the state adopted it",
        says: "removal within twelve months of each container’s accumulation start",
        section: "40 CFR 262.208(a)",
        edition: "eCFR text and an agency leaflet",
        sets: Sets::Rule(Asks::GoneWithin { clock: RuleClock::FirstDrop, span: Span::Months(12) }),
    },
    ExampleRule {
        key: "academic-55-gal",
        applies: "an eligible academic laboratory that opted in, where the state adopted it",
        says: "past 55 gal: out within 10 calendar days or at the next planned removal, whichever comes first",
        section: "40 CFR 262.208(d)",
        edition: "eCFR text and an agency leaflet",
        sets: Sets::Rule(Asks::AtMost { volume_ul: GALLONS_55_UL, within: Some(Span::Days(10)) }),
    },
    ExampleRule {
        key: "silver-5",
        applies: "whoever must find out whether a liquid is toxic waste by its silver",
        says: "5.0 mg/L or more",
        section: "40 CFR 261.24",
        edition: "CFR 2004 and a copy of 2019",
        sets: Sets::SilverLimit(5_000),
    },
    ExampleRule {
        key: "title",
        applies: "containers where waste first gathers",
        says: "the words “Hazardous Waste” and an indication of the hazards",
        section: "40 CFR 262.15(a)(5)",
        edition: "read in state texts that copy it (NR 662.015, 22 CCR 66262.15)",
        sets: Sets::Title("Hazardous Waste"),
    },
    ExampleRule {
        key: "title-academic",
        applies: "an eligible academic laboratory that opted in, where the state adopted it",
        says: "the words “unwanted material”, or another fixed term of the same meaning",
        section: "40 CFR 262.206",
        edition: "as quoted by a compliance service",
        sets: Sets::Title("Unwanted material"),
    },
    ExampleRule {
        key: "keep-3",
        applies: "manifests and the results of tests",
        says: "three years from the day the carrier accepted the waste",
        section: "40 CFR 262.40",
        edition: "annual CFR 2015",
        sets: Sets::KeepYears(3),
    },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::volume;

    #[test]
    fn every_figure_names_its_section_its_edition_and_when_it_was_read() {
        for rule in EXAMPLE {
            assert!(rule.section.starts_with("40 CFR 26"), "{}", rule.key);
            assert!(rule.edition.len() > 5 && rule.source().contains("November 2026"), "{}", rule.key);
            assert!(rule.source().contains("your state, your sewer authority and your safety office"), "{}", rule.key);
            assert!(!rule.says.contains("drain") && !rule.says.contains("memory"), "{}", rule.key);
            assert_eq!(ExampleRule::from_key(rule.key).map(|found| found.section), Some(rule.section));
        }
    }

    /// What the reference knows from memory alone: 262.16(c) (270 days), 262.17(a) (90 days).
    #[test]
    fn figures_known_from_memory_alone_are_left_out() {
        let spans: Vec<Asks> = EXAMPLE
            .iter()
            .filter_map(|rule| match rule.sets {
                Sets::Rule(asks) => Some(asks),
                _ => None,
            })
            .collect();
        for days in [90, 270] {
            assert!(!spans.contains(&Asks::GoneWithin { clock: RuleClock::FirstDrop, span: Span::Days(days) }));
        }
    }

    #[test]
    fn fifty_five_gallons_are_what_a_bottle_calls_them() {
        assert_eq!(volume::read("55 gal", 1, volume::MOST_UL), Ok(GALLONS_55_UL));
    }
}
