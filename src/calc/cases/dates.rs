//! Definitions: dates by which waste must go or papers must be kept.

use jiff::civil::Date;

use super::definition::{Definition, Kind, Refusal, Values};
use super::given::{Given, Start};
use crate::calc::silver::deadlines::{
    Term, keep_until, keep_until_working, remove_by, remove_by_or_visit, remove_by_or_visit_working, remove_by_working,
};

const DAYS: Kind = Kind::Whole { min: 0, max: 36_600 };
const MONTHS: Kind = Kind::Whole { min: 0, max: 1_200 };
const YEARS: Kind = Kind::Whole { min: 0, max: 100 };

pub fn definitions() -> Vec<Definition> {
    vec![
        Definition::new("remove_by", &["start_date", "date", "date_strict"], |g| {
            let start = start_date(g)?;
            let term = if g.has("days") {
                Term::Days(short(g.whole("days")?))
            } else {
                Term::Months(short(g.whole("months")?))
            };
            let ends = remove_by(start, term).map_err(|error| Refusal::of("start", error))?;
            Ok(Values::new()
                .with("start_date", start.to_string())
                .with("date", ends.date.to_string())
                .with("date_strict", ends.strict.to_string())
                .with_working(remove_by_working(start, term).map_err(|error| Refusal::of("start", error))?))
        })
        .takes("start", Kind::DateOrMoment)
        .may_take("zone", Kind::Zone)
        .takes("days", DAYS)
        .takes("months", MONTHS)
        .either(&[&["days"], &["months"]]),
        Definition::new("remove_by_or_visit", &["date"], |g| {
            let term = Term::Days(short(g.whole("days")?));
            let (start, visit) = (start_date(g)?, g.date("next_visit")?);
            let past = |error| Refusal::of("start", error);
            let date = remove_by_or_visit(start, term, visit).map_err(past)?;
            let working = remove_by_or_visit_working(start, term, visit).map_err(past)?;
            Ok(Values::new().with("date", date.to_string()).with_working(working))
        })
        .takes("start", Kind::DateOrMoment)
        .may_take("zone", Kind::Zone)
        .takes("days", DAYS)
        .takes("next_visit", Kind::Date),
        Definition::new("keep_until", &["date"], |g| {
            let (start, years) = (start_date(g)?, short(g.whole("years")?));
            let past = |error| Refusal::of("start", error);
            let date = keep_until(start, years).map_err(past)?;
            let working = keep_until_working(start, years).map_err(past)?;
            Ok(Values::new().with("date", date.to_string()).with_working(working))
        })
        .takes("start", Kind::DateOrMoment)
        .may_take("zone", Kind::Zone)
        .takes("years", YEARS),
    ]
}

/// The ranges above keep every term below 65,536.
const fn short(n: u32) -> u16 {
    n as u16
}

/// The calendar date of a start: as it stands, or of an instant in its zone.
fn start_date(g: &Given) -> Result<Date, Refusal> {
    match g.start("start")? {
        Start::Date(date) => Ok(date),
        Start::Moment(at, own) => {
            let zone = match (g.has("zone"), own) {
                (true, _) => g.zone("zone")?,
                (false, Some(own)) => own,
                (false, None) => {
                    let message = format!(
                        "is missing: an instant becomes a date only in a zone; it must be {}",
                        Kind::Zone.description()
                    );
                    return Err(Refusal::of("zone", message));
                }
            };
            Ok(zone.to_datetime(at).date())
        }
    }
}
