//! By when a waste container must be gone, by the site's own rules.

use jiff::{civil::Date, tz::TimeZone};

use crate::calc::silver::deadlines::{Term, remove_by};

use super::{
    container::Container,
    site_rule::{SiteRule, Span},
};

/// One rule, applied to one container.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deadline {
    /// The rule, in words.
    pub rule: String,
    /// Who said so.
    pub source: String,
    /// When its clock began, local; `None` while it has not.
    pub since: Option<Date>,
    /// The day by which it must be gone, by the strict reading (the start counts as day 1).
    pub by: Option<Date>,
}

/// Every rule, applied; none when no rule was entered. For a removed container: what applied to it.
pub fn deadlines(container: &Container, rules: &[SiteRule], zone: &TimeZone) -> Vec<Deadline> {
    rules
        .iter()
        .map(|rule| {
            let since = container.clock(rule.clock).map(|at| at.local(zone).date());
            Deadline {
                rule: rule.in_words(),
                source: rule.source.clone(),
                since,
                by: since.and_then(|start| Some(remove_by(start, term(rule.span)?).ok()?.strict)),
            }
        })
        .collect()
}

/// The earliest of them whose clock runs.
pub fn earliest(deadlines: &[Deadline]) -> Option<Date> {
    deadlines.iter().filter_map(|deadline| deadline.by).min()
}

fn term(span: Span) -> Option<Term> {
    match span {
        Span::Days(days) => u16::try_from(days).ok().map(Term::Days),
        Span::Months(months) => u16::try_from(months).ok().map(Term::Months),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{
        container::{ContainerState, Contents},
        ids::{ContainerId, Id, SiteId, SiteRuleId},
        instant::Instant,
        site_rule::RuleClock,
    };
    use jiff::civil::date;
    use uuid::Uuid;

    fn container(first_drop: &str, zone: &TimeZone) -> Container {
        Container {
            id: ContainerId::from_uuid(Uuid::nil()),
            site: SiteId::from_uuid(Uuid::nil()),
            label_number: 1,
            contents: Contents::SpentFixer,
            hazards: String::new(),
            place: String::new(),
            capacity_ul: 20_000_000,
            state: ContainerState::Filling,
            first_drop_at: Instant::from_local(first_drop, zone).ok(),
            full_at: None,
            moved_at: None,
            version: 1,
        }
    }

    fn rule(clock: RuleClock, span: Span) -> SiteRule {
        SiteRule {
            id: SiteRuleId::from_uuid(Uuid::nil()),
            site: SiteId::from_uuid(Uuid::nil()),
            clock,
            span,
            source: "safety office".to_owned(),
            entered_at: Instant::from_micros(0).expect("in range"),
        }
    }

    #[test]
    fn the_strict_day_is_one_earlier_and_counts_in_the_sites_zone() {
        // reference cases o-deadline-01 (180 days, 40 CFR 262.16(b)) and o-deadline-07 (local date)
        let zone = TimeZone::get("America/New_York").expect("bundled zones");
        let rules = [rule(RuleClock::FirstDrop, Span::Days(180)), rule(RuleClock::Full, Span::Days(10))];
        let found = deadlines(&container("2026-01-31T20:00", &zone), &rules, &zone);
        assert_eq!(found[0].by, Some(date(2026, 7, 29)));
        assert_eq!((found[1].since, found[1].by), (None, None), "that clock has not begun");
        assert_eq!(earliest(&found), Some(date(2026, 7, 29)));
        let late =
            deadlines(&container("2026-03-07T23:30", &zone), &[rule(RuleClock::FirstDrop, Span::Days(90))], &zone);
        assert_eq!((late[0].since, late[0].by), (Some(date(2026, 3, 7)), Some(date(2026, 6, 4))));
    }

    #[test]
    fn without_a_rule_there_is_no_date_and_nothing_calm() {
        let zone = TimeZone::UTC;
        assert_eq!(earliest(&deadlines(&container("2026-01-31T20:00", &zone), &[], &zone)), None);
    }
}
