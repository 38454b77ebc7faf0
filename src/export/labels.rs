//! How files name batches and containers (by the number on the bottle) and people.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use super::Cell;
use crate::{
    domain::{
        book::{Account, Vessel},
        ids::PersonId,
    },
    store::{Error, baths::batches, waste::containers},
};

/// Label numbers by vessel.
#[derive(Clone, Debug, Default)]
pub struct Labels(HashMap<Vessel, i64>);

impl Labels {
    /// Every batch's and container's.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn find(conn: &mut SqliteConnection) -> Result<Self, Error> {
        let batches = batches::list(conn).await?.into_iter().map(|b| (Vessel::Batch(b.id), b.label_number));
        let containers = containers::list(conn).await?.into_iter().map(|c| (Vessel::Container(c.id), c.label_number));
        Ok(Self(batches.chain(containers).collect()))
    }

    /// The number on a vessel.
    pub fn of(&self, vessel: Vessel) -> Option<i64> {
        self.0.get(&vessel).copied()
    }
}

/// The label number of a batch or container; nothing for the other accounts.
pub(super) fn label(labels: &Labels, account: Account) -> Cell {
    Cell::known(account.vessel().and_then(|vessel| labels.of(vessel)), Cell::Integer)
}

/// What somebody is called; nothing when they are no longer on record.
pub(super) fn name(names: &HashMap<PersonId, String>, person: PersonId) -> Cell {
    Cell::known(names.get(&person).map(String::as_str), Cell::text)
}
