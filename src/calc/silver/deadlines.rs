//! Dates by which waste must go or papers must be kept.
//!
//! Local calendar dates throughout, never multiples of 24 hours. The federal rules do not say
//! whether the start is day 0 or day 1, so the strict reading, one day earlier, stands beside each
//! date; show the strict one.

use jiff::civil::Date;
use jiff::{Span, ToSpan};

use crate::calc::working::Working;

/// A term that a rule sets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Term {
    /// Calendar days, up to 36,600.
    Days(u16),
    /// Calendar months, up to 1,200; the last of a shorter month where the day is missing.
    Months(u16),
    /// Calendar years, up to 100.
    Years(u16),
}

impl Term {
    /// In words: "90 days".
    fn words(self) -> String {
        let (n, unit) = match self {
            Self::Days(n) => (n, "day"),
            Self::Months(n) => (n, "month"),
            Self::Years(n) => (n, "year"),
        };
        format!("{n} {unit}{}", if n == 1 { "" } else { "s" })
    }

    fn span(self) -> Span {
        match self {
            Self::Days(n) => i64::from(n).days(),
            Self::Months(n) => i64::from(n).months(),
            Self::Years(n) => i64::from(n).years(),
        }
    }
}

/// The last day of a term.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RemoveBy {
    /// With the start counted as day 0.
    pub date: Date,
    /// With the start counted as day 1: one day earlier.
    pub strict: Date,
}

/// A date past the calendar (the year 9999).
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the date must be before the year 10000")]
pub struct PastCalendar;

/// The day by which a container must be gone.
///
/// # Errors
/// [`PastCalendar`] beyond the year 9999.
pub fn remove_by(start: Date, term: Term) -> Result<RemoveBy, PastCalendar> {
    let date = end_of(start, term)?;
    let strict = date.yesterday().map_err(|_| PastCalendar)?;
    Ok(RemoveBy { date, strict })
}

/// The end of a term or the next scheduled visit, whichever comes first (as in 40 CFR
/// 262.208(d)(1)).
///
/// # Errors
/// [`PastCalendar`] beyond the year 9999.
pub fn remove_by_or_visit(start: Date, term: Term, visit: Date) -> Result<Date, PastCalendar> {
    Ok(end_of(start, term)?.min(visit))
}

/// The day until which a paper must be kept.
///
/// # Errors
/// [`PastCalendar`] beyond the year 9999.
pub fn keep_until(start: Date, years: u16) -> Result<Date, PastCalendar> {
    end_of(start, Term::Years(years))
}

/// [`remove_by`] with its working.
///
/// # Errors
/// [`PastCalendar`] beyond the year 9999.
pub fn remove_by_working(start: Date, term: Term) -> Result<Working, PastCalendar> {
    let RemoveBy { date, strict } = remove_by(start, term)?;
    Ok(Working::of(
        "remove by",
        strict.to_string(),
        format!("{start} + {} = {date} with the start as day 0; {strict} with the start as day 1", term.words()),
        "calendar dates, never multiples of 24 hours; the term is the one entered, and as the federal rules do not say whether \
         the start is day 0 or day 1, the strict date is a day earlier",
    ))
}

/// [`remove_by_or_visit`] with its working.
///
/// # Errors
/// [`PastCalendar`] beyond the year 9999.
pub fn remove_by_or_visit_working(start: Date, term: Term, visit: Date) -> Result<Working, PastCalendar> {
    let (ends, date) = (end_of(start, term)?, remove_by_or_visit(start, term, visit)?);
    Ok(Working::of(
        "remove by",
        date.to_string(),
        format!("the earlier of {start} + {} = {ends} and the next visit, {visit}: {date}", term.words()),
        "whichever comes first, as in 40 CFR 262.208(d)(1) (a federal example, never advice: your own rules stand above it)",
    ))
}

/// [`keep_until`] with its working.
///
/// # Errors
/// [`PastCalendar`] beyond the year 9999.
pub fn keep_until_working(start: Date, years: u16) -> Result<Working, PastCalendar> {
    let date = keep_until(start, years)?;
    Ok(Working::of(
        "keep until",
        date.to_string(),
        format!("{start} + {} = {date}", Term::Years(years).words()),
        "calendar years, a missing day is the last of its month; how many years is for the rule of the paper to say, here as \
         entered",
    ))
}

fn end_of(start: Date, term: Term) -> Result<Date, PastCalendar> {
    start.checked_add(term.span()).map_err(|_| PastCalendar)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_year_from_a_leap_day_ends_on_the_last_of_february() {
        let ends = remove_by(date(2028, 2, 29), Term::Months(12)).unwrap();
        assert_eq!((ends.date, ends.strict), (date(2029, 2, 28), date(2029, 2, 27)));
        assert_eq!(keep_until(date(2028, 2, 29), 3).unwrap(), date(2031, 2, 28));
    }

    #[test]
    fn a_term_past_the_calendar_is_refused() {
        assert_eq!(remove_by(date(9999, 12, 1), Term::Days(90)), Err(PastCalendar));
    }
}
