//! A moment, kept as whole microseconds since 1970.

use std::fmt;

use jiff::{
    Timestamp, civil,
    tz::{AmbiguousOffset, TimeZone},
};

/// A moment in time, in whole microseconds since 1970-01-01T00:00Z.
///
/// Range: the years 1970 to 9999; anything else cannot be stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Instant(i64);

/// The moment lies outside the years the database can hold, or could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("this is not a date and time between 1970 and 9999")]
pub struct NotAnInstant;

/// A local time that names no one moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotALocalTime {
    /// It is not a date and time.
    #[error("must be a date and time, for example 2026-03-20T14:30")]
    NotATime,
    /// The clocks went forward over it.
    #[error("never was: the clocks went forward over it that day; type the time a clock showed")]
    Skipped,
    /// The clocks went back and showed it twice.
    #[error("the clocks went back that night and showed this time twice: say which of the two it was")]
    Twice,
}

/// Said of a time of the hour that a clock shows twice, before the clocks went back.
pub const FIRST_TIME: &str = "first";
/// The same after they went back.
pub const SECOND_TIME: &str = "second";

impl Instant {
    /// The last moment there is, in microseconds since 1970.
    pub const LAST_MICROS: i64 = 253_402_207_200_000_000;

    /// Before everything that is written.
    pub const FIRST: Self = Self(0);

    /// Past everything that is written: the end of the years that the database can hold.
    pub const LAST: Self = Self(Self::LAST_MICROS);

    /// From microseconds since 1970.
    ///
    /// # Errors
    /// When negative or past the year 9999.
    pub fn from_micros(micros: i64) -> Result<Self, NotAnInstant> {
        (0..=Self::LAST_MICROS).contains(&micros).then_some(Self(micros)).ok_or(NotAnInstant)
    }

    /// Microseconds since 1970.
    pub fn as_micros(self) -> i64 {
        self.0
    }

    /// From a jiff timestamp, rounded down to the microsecond.
    ///
    /// # Errors
    /// When before 1970 or past 9999.
    pub fn from_timestamp(timestamp: Timestamp) -> Result<Self, NotAnInstant> {
        Self::from_micros(timestamp.as_microsecond())
    }

    /// As a jiff timestamp.
    pub fn as_timestamp(self) -> Timestamp {
        Timestamp::from_microsecond(self.0).unwrap_or(Timestamp::UNIX_EPOCH)
    }

    /// Reads what a `datetime-local` control sends (`2026-11-25T14:30`), as local time of `zone`.
    /// A time in a clock's gap is moved forward by the gap, one in a fold is the earlier.
    ///
    /// # Errors
    /// When it is not a date and time.
    pub fn from_local(text: &str, zone: &TimeZone) -> Result<Self, NotAnInstant> {
        let local: civil::DateTime = text.trim().parse().map_err(|_| NotAnInstant)?;
        let timestamp = zone.to_ambiguous_timestamp(local).compatible().map_err(|_| NotAnInstant)?;
        Self::from_timestamp(timestamp)
    }

    /// Reads a local date and time that a person typed. `which` is empty, or [`FIRST_TIME`] or
    /// [`SECOND_TIME`] for a time in the hour that the clocks showed twice; it may also stand behind the
    /// time itself, as [`Instant::as_local_control`] writes it.
    ///
    /// # Errors
    /// When it is none, when the clocks went forward over it, and when they showed it twice and nobody
    /// said which of the two it was.
    pub fn read_local(text: &str, which: &str, zone: &TimeZone) -> Result<Self, NotALocalTime> {
        let (text, behind) = text.trim().split_once(' ').unwrap_or((text.trim(), ""));
        let local: civil::DateTime = text.parse().map_err(|_| NotALocalTime::NotATime)?;
        let which = if which.is_empty() { behind.trim() } else { which };
        if !["", FIRST_TIME, SECOND_TIME].contains(&which) {
            return Err(NotALocalTime::NotATime);
        }
        let ambiguous = zone.to_ambiguous_timestamp(local);
        let timestamp = match (ambiguous.offset(), which) {
            (AmbiguousOffset::Gap { .. }, _) => return Err(NotALocalTime::Skipped),
            (AmbiguousOffset::Fold { .. }, "") => return Err(NotALocalTime::Twice),
            (AmbiguousOffset::Fold { .. }, SECOND_TIME) => ambiguous.later(),
            _ => ambiguous.earlier(),
        };
        let timestamp = timestamp.map_err(|_| NotALocalTime::NotATime)?;
        Self::from_timestamp(timestamp).map_err(|_| NotALocalTime::NotATime)
    }

    /// The local date and time in `zone`.
    pub fn local(self, zone: &TimeZone) -> civil::DateTime {
        zone.to_datetime(self.as_timestamp())
    }

    /// The value of a `datetime-local` control, to the minute. In the hour that the clocks show twice it
    /// says behind it which of the two it was, so that nothing moves when it is saved again.
    pub fn as_local_control(self, zone: &TimeZone) -> String {
        let local = self.local(zone);
        let typed = local.strftime("%Y-%m-%dT%H:%M").to_string();
        match zone.to_ambiguous_timestamp(local).offset() {
            AmbiguousOffset::Fold { before, .. } if zone.to_offset(self.as_timestamp()) == before => {
                format!("{typed} {FIRST_TIME}")
            }
            AmbiguousOffset::Fold { .. } => format!("{typed} {SECOND_TIME}"),
            _ => typed,
        }
    }

    /// For people: `25 Nov 2026, 14:30`.
    pub fn as_words(self, zone: &TimeZone) -> String {
        self.local(zone).strftime("%-d %b %Y, %H:%M").to_string()
    }

    /// Time of day for people: `14:30`.
    pub fn as_time(self, zone: &TimeZone) -> String {
        self.local(zone).strftime("%H:%M").to_string()
    }

    /// ISO 8601 with the zone's offset, to the second: `2026-11-25T14:30:05-07:00`.
    pub fn as_iso(self, zone: &TimeZone) -> String {
        let offset = zone.to_offset(self.as_timestamp());
        self.as_timestamp().display_with_offset(offset).to_string().split_once('.').map_or_else(
            || self.as_timestamp().display_with_offset(offset).to_string(),
            |(before, after)| {
                let tail = after.find(['+', '-', 'Z']).map_or("", |at| &after[at..]);
                format!("{before}{tail}")
            },
        )
    }

    /// This moment, `micros` microseconds later (earlier when negative), kept within the range.
    #[must_use]
    pub fn plus_micros(self, micros: i64) -> Self {
        Self(self.0.saturating_add(micros).clamp(0, Self::LAST_MICROS))
    }

    /// This moment, so many minutes later.
    #[must_use]
    pub fn plus_minutes(self, minutes: i64) -> Self {
        self.plus_micros(minutes.saturating_mul(60_000_000))
    }

    /// Microseconds from `earlier` to this moment; negative when it is later.
    pub fn micros_since(self, earlier: Self) -> i64 {
        self.0 - earlier.0
    }
}

impl fmt::Display for Instant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.as_timestamp().fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn zone() -> TimeZone {
        TimeZone::get("America/Denver").expect("bundled zones")
    }

    #[test]
    fn an_iso_time_carries_the_sites_offset_and_no_fraction() {
        let noon = Instant::from_micros(1_774_029_600_123_456).expect("in range");
        assert_eq!(noon.as_iso(&zone()), "2026-03-20T12:00:00-06:00");
    }

    #[test]
    fn a_local_time_is_read_in_the_sites_zone_and_shown_again() {
        let at = Instant::from_local("2026-07-01T14:30", &zone()).expect("a time");
        assert_eq!(at.to_string(), "2026-07-01T20:30:00Z");
        assert_eq!(at.as_local_control(&zone()), "2026-07-01T14:30");
    }

    /// In 2026 the clocks of that zone go forward on 8 March at 2:00 and back on 1 November at 2:00.
    #[test]
    fn a_time_that_the_clocks_skipped_is_refused_and_of_one_that_was_twice_both_can_be_told() {
        let read = |text: &str, which: &str| Instant::read_local(text, which, &zone());
        assert_eq!(read("2026-03-08T02:30", ""), Err(NotALocalTime::Skipped));
        assert!(read("2026-03-08T03:00", "").is_ok());
        assert_eq!(read("2026-11-01T01:30", ""), Err(NotALocalTime::Twice));
        for (which, iso) in [("first", "2026-11-01T01:30:00-06:00"), ("second", "2026-11-01T01:30:00-07:00")] {
            let at = read("2026-11-01T01:30", which).expect("a time");
            assert_eq!(at.as_iso(&zone()), iso);
            // and it stays when it is shown and saved again
            assert_eq!(at.as_local_control(&zone()), format!("2026-11-01T01:30 {which}"));
            assert_eq!(read(&at.as_local_control(&zone()), ""), Ok(at));
        }
        assert_eq!(read("2026-11-01T01:30", "third"), Err(NotALocalTime::NotATime));
        // what was said of a time that is clear plays no part
        assert_eq!(read("2026-11-01T12:30", "second"), read("2026-11-01T12:30", ""));
    }

    #[test]
    fn words_that_are_no_time_are_refused() {
        assert_eq!(Instant::from_local("half past two", &zone()), Err(NotAnInstant));
        assert_eq!(Instant::from_local("1492-10-12T10:00", &zone()), Err(NotAnInstant));
    }
}
