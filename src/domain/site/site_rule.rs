//! A rule the site entered for when a waste container must be gone.

use crate::domain::{
    ids::{SiteId, SiteRuleId},
    instant::Instant,
    measure::volume,
};

/// The event from which a rule counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RuleClock {
    /// The first drop that went in: the accumulation start.
    FirstDrop,
    /// The day the container was full.
    Full,
    /// The day it was moved to where containers are taken away.
    Moved,
}

impl RuleClock {
    /// In the order of a container's life.
    pub const ALL: [Self; 3] = [Self::FirstDrop, Self::Full, Self::Moved];

    /// The stored word.
    pub fn as_str(self) -> &'static str {
        match self {
            Self::FirstDrop => "first drop",
            Self::Full => "full",
            Self::Moved => "moved",
        }
    }

    /// From the stored word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|clock| clock.as_str() == word)
    }

    /// For people, after “so many days from”.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::FirstDrop => "the first drop",
            Self::Full => "the day it was full",
            Self::Moved => "the day it was moved to where it is taken away",
        }
    }
}

/// How long, in days or in months of the calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Span {
    /// So many days.
    Days(i64),
    /// So many calendar months.
    Months(i64),
}

impl Span {
    /// The longest span that is accepted, in either unit.
    pub const LONGEST: i64 = 1200;

    /// The number and the stored word of its unit.
    pub fn parts(self) -> (i64, &'static str) {
        match self {
            Self::Days(days) => (days, "days"),
            Self::Months(months) => (months, "months"),
        }
    }

    /// From a number and the stored word of its unit; the number from 1 to [`Span::LONGEST`].
    pub fn from_parts(number: i64, unit: &str) -> Option<Self> {
        if !(1..=Self::LONGEST).contains(&number) {
            return None;
        }
        match unit {
            "days" => Some(Self::Days(number)),
            "months" => Some(Self::Months(number)),
            _ => None,
        }
    }

    /// For people: `180 days`, `1 month`.
    pub fn in_words(self) -> String {
        match self {
            Self::Days(1) => "1 day".to_owned(),
            Self::Months(1) => "1 month".to_owned(),
            Self::Days(days) => format!("{days} days"),
            Self::Months(months) => format!("{months} months"),
        }
    }
}

/// What a rule asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asks {
    /// A container must be gone within a span from an event of its own.
    GoneWithin {
        /// From when it counts.
        clock: RuleClock,
        /// How long it gives.
        span: Span,
    },
    /// The waste that stands here, in all containers not yet moved, must not go past a volume.
    AtMost {
        /// The volume, microlitres.
        volume_ul: i64,
        /// How long it gives to bring it back below; `None` gives no time.
        within: Option<Span>,
    },
}

/// The stored word of a rule that counts from a volume.
pub const PAST_VOLUME: &str = "past volume";

/// A removal rule. Several may hold at once; the earliest date counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SiteRule {
    /// Its id.
    pub id: SiteRuleId,
    /// Whose rule it is.
    pub site: SiteId,
    /// What it asks.
    pub asks: Asks,
    /// Whether it ends with the next planned removal, when that comes before its span is over.
    pub or_next_visit: bool,
    /// Who said so: a regulation, the safety office.
    pub source: String,
    /// When it was entered here.
    pub entered_at: Instant,
}

impl SiteRule {
    /// For people: `gone within 180 days of the first drop`.
    pub fn in_words(&self) -> String {
        let or_visit = if self.or_next_visit { ", or with the next planned removal if that comes first" } else { "" };
        match self.asks {
            Asks::GoneWithin { clock, span } => {
                format!("gone within {} of {}{or_visit}", span.in_words(), clock.in_words())
            }
            Asks::AtMost { volume_ul, within: None } => {
                format!("never more than {} here, in all containers not moved", volume::in_words(volume_ul))
            }
            Asks::AtMost { volume_ul, within: Some(span) } => format!(
                "what is past {} here, in all containers not moved, gone within {}{or_visit}",
                volume::in_words(volume_ul),
                span.in_words()
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_is_one_of_days_or_months_within_reason() {
        assert_eq!(Span::from_parts(180, "days"), Some(Span::Days(180)));
        assert_eq!(Span::from_parts(12, "months").map(Span::in_words), Some("12 months".to_owned()));
        for (number, unit) in [(0, "days"), (-1, "days"), (1201, "months"), (3, "weeks")] {
            assert_eq!(Span::from_parts(number, unit), None, "{number} {unit}");
        }
    }

    #[test]
    fn stored_words_are_found_again() {
        for clock in RuleClock::ALL {
            assert_eq!(RuleClock::from_word(clock.as_str()), Some(clock));
        }
    }
}
