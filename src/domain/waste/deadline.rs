//! By when a waste container must be gone, by the site's own rules.

use jiff::{civil::Date, tz::TimeZone};

use crate::calc::silver::deadlines::{Term, remove_by, remove_by_or_visit};

use super::container::Container;
use crate::domain::{
    instant::Instant,
    site::site_rule::{Asks, RuleClock, SiteRule, Span},
};

/// One rule, applied to one container.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deadline {
    /// The rule, in words.
    pub rule: String,
    /// Who said so.
    pub source: String,
    /// Which clock it counts from, in words.
    pub clock: &'static str,
    /// When its clock began, local; `None` while it has not.
    pub since: Option<Date>,
    /// The day by which it must be gone, by the strict reading (the start counts as day 1); the next
    /// planned removal, when the rule ends with that and it comes first.
    pub by: Option<Date>,
    /// The same with the start counted as day 0: one day later, or the same planned removal.
    pub by_other_reading: Option<Date>,
}

/// The clock of a rule that counts from a volume.
const PAST_ITS_VOLUME: &str = "past its volume";

/// The name of a clock, as [`Deadline::clock`] has it.
pub fn clock_named(word: &str) -> Option<&'static str> {
    RuleClock::ALL.into_iter().map(RuleClock::as_str).chain([PAST_ITS_VOLUME]).find(|name| *name == word)
}

/// Every rule, applied; none when no rule was entered.
///
/// `next_visit` is the day the carrier comes next, for rules that end with it; `past` says since when
/// the waste here, in all containers not moved, has stood past a volume.
pub fn deadlines(
    container: &Container,
    rules: &[SiteRule],
    zone: &TimeZone,
    next_visit: Option<Date>,
    past: impl Fn(i64) -> Option<Instant>,
) -> Vec<Deadline> {
    rules.iter().filter_map(|rule| deadline(container, rule, zone, next_visit, &past)).collect()
}

fn deadline(
    container: &Container,
    rule: &SiteRule,
    zone: &TimeZone,
    next_visit: Option<Date>,
    past: &impl Fn(i64) -> Option<Instant>,
) -> Option<Deadline> {
    let (clock, began, span) = match rule.asks {
        Asks::GoneWithin { clock, span } => (clock.as_str(), container.clock(clock), span),
        // what was moved stands no longer here; a limit without a term is no deadline
        Asks::AtMost { volume_ul, within } => {
            let here = container.moved_at().is_none() && !container.is_removed();
            (PAST_ITS_VOLUME, past(volume_ul).filter(|_| here), within?)
        }
    };
    let since = began.map(|at| at.local(zone).date());
    let ends = since.and_then(|start| remove_by(start, term(span)?).ok());
    // a visit before the clock began removed nothing of this
    let visit = next_visit.filter(|visit| rule.or_next_visit && since.is_some_and(|start| *visit >= start));
    let or_visit = |by: Date| visit.map_or(by, |visit| by.min(visit));
    Some(Deadline {
        rule: rule.in_words(),
        source: rule.source.clone(),
        clock,
        since,
        by: ends.map(|ends| or_visit(ends.strict)),
        by_other_reading: since.and_then(|start| match visit {
            Some(visit) => remove_by_or_visit(start, term(span)?, visit).ok(),
            None => ends.map(|ends| ends.date),
        }),
    })
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
        ids::{ContainerId, Id, SiteId, SiteRuleId},
        instant::Instant,
        site::site_rule::RuleClock,
        waste::container::{Contents, Life, Marks},
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
            life: Life::NEW,
            first_drop_at: Instant::from_local(first_drop, zone).ok(),
            version: 1,
        }
    }

    fn rule(clock: RuleClock, span: Span) -> SiteRule {
        SiteRule {
            id: SiteRuleId::from_uuid(Uuid::nil()),
            site: SiteId::from_uuid(Uuid::nil()),
            asks: Asks::GoneWithin { clock, span },
            source: "safety office".to_owned(),
            or_next_visit: false,
            entered_at: Instant::from_micros(0).expect("in range"),
        }
    }

    #[test]
    fn the_strict_day_is_one_earlier_and_counts_in_the_sites_zone() {
        // tests/reference: cases o-deadline-01 (180 days, 40 CFR 262.16(b)) and o-deadline-07 (local date)
        let zone = TimeZone::get("America/New_York").expect("bundled zones");
        let rules = [rule(RuleClock::FirstDrop, Span::Days(180)), rule(RuleClock::Full, Span::Days(10))];
        let found = deadlines(&container("2026-01-31T20:00", &zone), &rules, &zone, None, |_| None);
        assert_eq!(found[0].by, Some(date(2026, 7, 29)));
        assert_eq!(found[0].by_other_reading, Some(date(2026, 7, 30)));
        assert_eq!((found[1].since, found[1].by), (None, None), "that clock has not begun");
        assert_eq!(earliest(&found), Some(date(2026, 7, 29)));
        let late = deadlines(
            &container("2026-03-07T23:30", &zone),
            &[rule(RuleClock::FirstDrop, Span::Days(90))],
            &zone,
            None,
            |_| None,
        );
        assert_eq!((late[0].since, late[0].by), (Some(date(2026, 3, 7)), Some(date(2026, 6, 4))));
    }

    #[test]
    fn without_a_rule_there_is_no_date_and_nothing_calm() {
        let zone = TimeZone::UTC;
        assert_eq!(earliest(&deadlines(&container("2026-01-31T20:00", &zone), &[], &zone, None, |_| None)), None);
    }

    /// 40 CFR 262.15(a)(6) gives three consecutive calendar days past 55 gal (the text of states that
    /// copied it); the strict reading counts the day it went past.
    #[test]
    fn past_a_volume_the_excess_must_go_and_a_moved_container_stands_no_longer_here() {
        let zone = TimeZone::UTC;
        let asks = Asks::AtMost { volume_ul: 208_197_648, within: Some(Span::Days(3)) };
        let rules = [SiteRule { asks, ..rule(RuleClock::FirstDrop, Span::Days(1)) }];
        let went_past = Instant::from_local("2026-03-02T18:00", &zone).ok();
        let here = container("2026-01-31T20:00", &zone);
        let found = deadlines(&here, &rules, &zone, None, |_| went_past);
        assert_eq!((found[0].since, found[0].by), (Some(date(2026, 3, 2)), Some(date(2026, 3, 4))));
        assert_eq!(deadlines(&here, &rules, &zone, None, |_| None)[0].by, None, "not past it");
        let moved_at = |marks| Marks { moved_at: went_past, ..marks };
        let moved = Container { life: here.life.marked(moved_at).expect("here"), ..here.clone() };
        assert_eq!(deadlines(&moved, &rules, &zone, None, |_| went_past)[0].by, None);
        let limit = [SiteRule { asks: Asks::AtMost { volume_ul: 1, within: None }, ..rules[0].clone() }];
        assert_eq!(deadlines(&here, &limit, &zone, None, |_| went_past), [], "a limit is no deadline");
    }

    /// 40 CFR 262.208(d)(1)(ii): within 10 calendar days of the date that 55 gallons was exceeded, or at
    /// the next regularly scheduled removal, whichever comes first (eCFR of 10 June 2026).
    #[test]
    fn ten_days_or_the_next_removal_whichever_comes_first() {
        let zone = TimeZone::UTC;
        let asks = Asks::AtMost { volume_ul: 208_197_648, within: Some(Span::Days(10)) };
        let rules = [SiteRule { asks, or_next_visit: true, ..rule(RuleClock::FirstDrop, Span::Days(1)) }];
        let went_past = Instant::from_local("2026-03-02T18:00", &zone).ok();
        let here = container("2026-01-31T20:00", &zone);
        let by = |visit| {
            let found = deadlines(&here, &rules, &zone, visit, |_| went_past);
            (found[0].by, found[0].by_other_reading)
        };
        assert_eq!(by(None), (Some(date(2026, 3, 11)), Some(date(2026, 3, 12))));
        assert_eq!(by(Some(date(2026, 3, 6))), (Some(date(2026, 3, 6)), Some(date(2026, 3, 6))));
        assert_eq!(by(Some(date(2026, 4, 6))), (Some(date(2026, 3, 11)), Some(date(2026, 3, 12))));
        assert_eq!(by(Some(date(2026, 2, 6))).0, Some(date(2026, 3, 11)), "a visit before it went past");
    }
}
