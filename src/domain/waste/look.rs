//! A look at a waste container: closed, labelled, sound. How often is the site's own rule.

use jiff::{Span, civil::Date, tz::TimeZone};

use super::taken_back::TakenBack;
use crate::domain::{
    ids::{ContainerId, LookId, PersonId},
    instant::Instant,
};

/// What somebody saw.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Look {
    /// Its id.
    pub id: LookId,
    /// At which container.
    pub container: ContainerId,
    /// When.
    pub looked_at: Instant,
    /// It was closed.
    pub closed: bool,
    /// Its label was there and could be read.
    pub labelled: bool,
    /// It was dry outside, not bulged, not leaking.
    pub sound: bool,
    /// What was not as it should be, and what was done about it.
    pub remark: String,
    /// Who looked.
    pub looked_by: PersonId,
    /// A mistake: it was taken back.
    pub taken_back: Option<TakenBack>,
}

impl Look {
    /// Whether all was as it should be.
    pub fn is_good(&self) -> bool {
        self.closed && self.labelled && self.sound
    }

    /// For people: `closed, labelled, sound`.
    pub fn in_words(&self) -> String {
        let said = |yes: bool, good: &str, bad: &str| if yes { good.to_owned() } else { bad.to_owned() };
        [
            said(self.closed, "closed", "not closed"),
            said(self.labelled, "labelled", "label missing or not readable"),
            said(self.sound, "sound", "not sound"),
        ]
        .join(", ")
    }
}

/// The day by which somebody must look again: so many days after the last look, or after the first
/// drop when nobody has. `None` while there is nothing in it.
pub fn look_due(last: Option<Instant>, first_drop: Option<Instant>, every_days: i64, zone: &TimeZone) -> Option<Date> {
    let from = last.or(first_drop)?.local(zone).date();
    from.checked_add(Span::new().try_days(every_days).ok()?).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_next_look_counts_from_the_last_or_from_the_first_drop() {
        let zone = TimeZone::UTC;
        let at = |text: &str| Instant::from_local(text, &zone).ok();
        let due = |last, first| look_due(last, first, 7, &zone).map(|date| date.to_string());
        assert_eq!(due(None, at("2026-03-01T20:00")).as_deref(), Some("2026-03-08"));
        assert_eq!(due(at("2026-03-06T08:00"), at("2026-03-01T20:00")).as_deref(), Some("2026-03-13"));
        assert_eq!(due(None, None), None);
    }
}
