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

impl Instant {
    const LAST_MICROS: i64 = 253_402_207_200_000_000;

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

    /// Whether a local time never was: the clocks went forward over it.
    pub fn was_skipped(text: &str, zone: &TimeZone) -> bool {
        text.trim()
            .parse::<civil::DateTime>()
            .is_ok_and(|local| matches!(zone.to_ambiguous_timestamp(local).offset(), AmbiguousOffset::Gap { .. }))
    }

    /// The local date and time in `zone`.
    pub fn local(self, zone: &TimeZone) -> civil::DateTime {
        zone.to_datetime(self.as_timestamp())
    }

    /// The value of a `datetime-local` control, to the minute.
    pub fn as_local_control(self, zone: &TimeZone) -> String {
        self.local(zone).strftime("%Y-%m-%dT%H:%M").to_string()
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
    fn a_time_that_the_clocks_skipped_is_told_and_one_that_was_twice_is_the_earlier() {
        assert!(Instant::was_skipped("2026-03-08T02:30", &zone()));
        assert!(!Instant::was_skipped("2026-03-08T03:00", &zone()));
        assert!(!Instant::was_skipped("2026-11-01T01:30", &zone()));
        let twice = Instant::from_local("2026-11-01T01:30", &zone()).expect("a time");
        assert_eq!(twice.as_iso(&zone()), "2026-11-01T01:30:00-06:00");
    }

    #[test]
    fn words_that_are_no_time_are_refused() {
        assert_eq!(Instant::from_local("half past two", &zone()), Err(NotAnInstant));
        assert_eq!(Instant::from_local("1492-10-12T10:00", &zone()), Err(NotAnInstant));
    }
}
