//! The stage of the story: the lab's pages in process, and a clock that the story moves along.

use anyhow::Context;
use axum::Router;
use jiff::{Span, civil::Date, tz::TimeZone};

use super::visitor::Visitor;
use crate::{
    clock::World,
    domain::instant::Instant,
    secrets::{Effort, Hasher},
    store::{ReadConnection, Store},
    web::{
        every_route,
        kit::{reach::Reach, state::AppState},
    },
};

/// When the story is over, in the lab's own time.
const END: &str = "14:00";
/// The demo is opened at this minute of the lab's day or up to an hour later: early in the afternoon, with the
/// sun in the sky. Which zone the lab lies in follows from it.
const OPENED_FROM: i64 = 13 * 60 + 40;
/// How far west of its zone's meridian the lab lies, in degrees: the sun is highest at ten past one.
const WEST_OF_MERIDIAN: f64 = 17.5;

/// The stage.
pub struct Stage {
    state: AppState,
    router: Router,
    /// The lab's zone.
    pub zone: TimeZone,
    /// Its name among the zones.
    pub zone_name: String,
    /// Where the lab lies, in degrees east. It is a place of the demo's own: where a map has sea, an island.
    pub longitude: f64,
    /// The day of the second session.
    pub today: Date,
    /// How much later than the story is written all of it happens, so that it ends in the minute in which the
    /// demo is opened.
    later_min: i64,
}

/// The zone in which it is early in the afternoon, in hours ahead of UTC from -11 to 12.
fn zone_of(opened: Instant) -> i64 {
    let minute_utc = opened.as_micros().div_euclid(60_000_000).rem_euclid(24 * 60);
    let hours = (OPENED_FROM - minute_utc).div_euclid(60) + i64::from((OPENED_FROM - minute_utc).rem_euclid(60) > 0);
    if hours > 12 { hours - 24 } else { hours }
}

impl Stage {
    /// A stage before the first scene. `world` has a clock that can be moved, standing at the end
    /// of the story.
    ///
    /// # Errors
    /// When the zone is unknown.
    pub fn new(store: &Store, world: &World) -> anyhow::Result<Self> {
        let hours = zone_of(world.now());
        // the names of these zones count hours behind UTC
        let zone_name = if hours == 0 { "Etc/GMT".to_owned() } else { format!("Etc/GMT{:+}", -hours) };
        let zone = TimeZone::get(&zone_name)?;
        let longitude = (15.0 * hours as f64 - WEST_OF_MERIDIAN + 180.0).rem_euclid(360.0) - 180.0;
        let today = world.now().local(&zone).date();
        let state = AppState::new(store.clone(), world.clone(), Hasher::new(Effort::Full), Reach::default());
        let router = every_route::router(state.clone());
        let mut stage = Self { state, router, zone, zone_name, longitude, today, later_min: 0 };
        stage.later_min = world.now().micros_since(stage.moment(0, END)?).div_euclid(60_000_000);
        Ok(stage)
    }

    /// A moment of the story.
    ///
    /// # Errors
    /// When the time is not written as `13:05`.
    pub fn moment(&self, days_ago: i32, time: &str) -> anyhow::Result<Instant> {
        let day = self.day(days_ago)?;
        let written = Instant::from_local(&format!("{day}T{time}"), &self.zone);
        Ok(written.with_context(|| format!("{day} {time}"))?.plus_minutes(self.later_min))
    }

    /// A day of the story.
    ///
    /// # Errors
    /// When it lies before the calendar begins.
    pub fn day(&self, days_ago: i32) -> anyhow::Result<Date> {
        Ok(self.today.checked_sub(Span::new().days(days_ago))?)
    }

    /// The day and the time by the lab's clocks.
    pub fn now_in_words(&self) -> String {
        self.state.now().as_words(&self.zone)
    }

    /// Lets it be that moment.
    ///
    /// # Errors
    /// As [`Stage::moment`].
    pub fn it_is(&self, days_ago: i32, time: &str) -> anyhow::Result<()> {
        self.state.world.clock.set(self.moment(days_ago, time)?);
        Ok(())
    }

    /// Lets minutes go by.
    pub fn minutes_go_by(&self, minutes: i64) {
        self.state.world.clock.forward_minutes(minutes);
    }

    /// Now, as the pages' controls for date and time take it.
    pub fn now(&self) -> String {
        self.ago(0)
    }

    /// So many minutes ago, as the pages' controls for date and time take it.
    pub fn ago(&self, minutes: i64) -> String {
        self.state.now().plus_minutes(-minutes).as_local_control(&self.zone)
    }

    /// Somebody who comes through the door.
    pub fn visitor(&self) -> Visitor {
        Visitor::new(&self.router)
    }

    /// Time and chance.
    pub fn world(&self) -> &World {
        &self.state.world
    }

    /// The store, to look things up in and to make links.
    pub fn store(&self) -> &Store {
        &self.state.store
    }

    /// A connection to look things up with.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn read(&self) -> anyhow::Result<ReadConnection> {
        Ok(self.state.store.read().await?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_early_in_the_afternoon_at_the_lab_whenever_the_demo_is_opened() {
        let day = 1_798_675_200; // 31 December 2026, midnight UTC
        for minute in 0..24 * 60 {
            let opened = Instant::from_micros((day + minute * 60 + 59) * 1_000_000).expect("in range");
            let hours = zone_of(opened);
            assert!((-11..=12).contains(&hours), "{minute}: {hours}");
            let there = (minute + hours * 60).rem_euclid(24 * 60);
            assert!((OPENED_FROM..OPENED_FROM + 60).contains(&there), "{minute}: {there} with {hours}");
        }
        let evening: jiff::Timestamp = "2026-03-20T18:30:00Z".parse().expect("an instant");
        assert_eq!(zone_of(Instant::from_timestamp(evening).expect("in range")), -4);
    }
}
