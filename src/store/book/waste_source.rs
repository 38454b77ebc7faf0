//! What the statements of the years are worked out from.

use jiff::tz::TimeZone;
use sqlx::SqliteConnection;

use crate::domain::{
    book::Entry,
    instant::Instant,
    waste::{
        container::Contents,
        year_statement::{Kinds, YearStatement, statement, years},
    },
};

use super::list_all_waste;
use crate::store::{Error, baths::batches, waste::containers};

/// Every entry of waste, and what each vessel of waste holds.
#[derive(Clone, Debug)]
pub struct WasteSource {
    /// The entries, in the book's order.
    pub entries: Vec<Entry>,
    /// What vessels hold.
    pub kinds: Kinds,
}

impl WasteSource {
    /// As the book is today.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn find(conn: &mut SqliteConnection) -> Result<Self, Error> {
        let containers = containers::list(conn).await?.into_iter().map(|one| (one.id, one.contents)).collect();
        let baths = batches::list(conn).await?;
        let batches = baths.into_iter().map(|batch| (batch.id, Contents::of_bath(batch.kind))).collect();
        Ok(Self { entries: list_all_waste(conn).await?, kinds: Kinds { containers, batches } })
    }

    /// As it was known before a moment: what was written later was not.
    #[must_use]
    pub fn known_before(mut self, moment: Instant) -> Self {
        self.entries.retain(|entry| entry.recorded_at < moment);
        self
    }

    /// As it was when an entry was the last one.
    #[must_use]
    pub fn through(mut self, last_entry: i64) -> Self {
        self.entries.retain(|entry| entry.number <= last_entry);
        self
    }

    /// The years there are statements of, on through `until`.
    pub fn years(&self, zone: &TimeZone, until: i16) -> Vec<i16> {
        years(&self.entries, zone, until)
    }

    /// The statement of a year.
    pub fn statement(&self, year: i16, zone: &TimeZone) -> YearStatement {
        statement(year, &self.entries, &self.kinds, zone)
    }
}
