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
        routes,
        state::{AppState, Reach},
    },
};

/// The zone the invented lab lies in.
const ZONE: &str = "America/New_York";
/// When the second session's story is over.
const END: &str = "14:10";

/// The stage.
pub struct Stage {
    state: AppState,
    router: Router,
    /// The lab's zone.
    pub zone: TimeZone,
    /// The day of the second session: the last one on which it can have been over by now.
    pub today: Date,
}

impl Stage {
    /// A stage before the first scene. `world` has a clock that can be moved, standing at the end
    /// of the story.
    ///
    /// # Errors
    /// When the zone is unknown.
    pub fn new(store: &Store, world: &World) -> anyhow::Result<Self> {
        let zone = TimeZone::get(ZONE)?;
        let today = world.now().local(&zone).date();
        let state = AppState::new(store.clone(), world.clone(), Hasher::new(Effort::Full), Reach::default());
        let router = routes::router(state.clone());
        let mut stage = Self { state, router, zone, today };
        if stage.moment(0, END)? > world.now() {
            stage.today = today.checked_sub(Span::new().days(1))?;
        }
        Ok(stage)
    }

    /// A moment of the story.
    ///
    /// # Errors
    /// When the time is not written as `13:05`.
    pub fn moment(&self, days_ago: i32, time: &str) -> anyhow::Result<Instant> {
        let day = self.day(days_ago)?;
        Instant::from_local(&format!("{day}T{time}"), &self.zone).with_context(|| format!("{day} {time}"))
    }

    /// A day of the story.
    ///
    /// # Errors
    /// When it lies before the calendar begins.
    pub fn day(&self, days_ago: i32) -> anyhow::Result<Date> {
        Ok(self.today.checked_sub(Span::new().days(days_ago))?)
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
