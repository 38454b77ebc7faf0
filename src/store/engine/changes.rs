//! What commits touched, told after each of them: so that pages which look on know when to look again.

use std::{
    collections::BTreeSet,
    sync::{Arc, Mutex, PoisonError},
};

use sqlx::SqliteConnection;
use tokio::sync::broadcast;

/// So many commits may go untold to a listener before it is told that it missed some.
const KEPT: usize = 64;

/// The tables that one commit touched. Tables without row ids are not among them; whatever writes to
/// such a table writes to the change log too.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Changed(Arc<BTreeSet<String>>);

impl Changed {
    /// Whether a table was touched.
    pub fn touched(&self, table: &str) -> bool {
        self.0.contains(table)
    }

    #[cfg(test)]
    pub(crate) fn of(tables: &[&str]) -> Self {
        Self(Arc::new(tables.iter().map(|table| (*table).to_owned()).collect()))
    }
}

/// Gathers what the writer's connection touches and tells it when the commit is on disk.
#[derive(Debug)]
pub(in crate::store) struct Changes {
    touched: Arc<Mutex<BTreeSet<String>>>,
    tell: broadcast::Sender<Changed>,
}

impl Default for Changes {
    fn default() -> Self {
        Self { touched: Arc::default(), tell: broadcast::Sender::new(KEPT) }
    }
}

impl Changes {
    /// Has SQLite itself say which tables are written to over this connection, so that no write can
    /// forget to.
    pub(in crate::store) async fn watch(&self, conn: &mut SqliteConnection) -> Result<(), sqlx::Error> {
        let touched = Arc::clone(&self.touched);
        conn.lock_handle().await?.set_update_hook(move |update| {
            if update.database != "main" {
                return;
            }
            let mut touched = touched.lock().unwrap_or_else(PoisonError::into_inner);
            if !touched.contains(update.table) {
                touched.insert(update.table.to_owned());
            }
        });
        Ok(())
    }

    /// The group is on disk, or is not: tells what it touched, or forgets it.
    pub(in crate::store) fn settle(&self, committed: bool) {
        let touched = std::mem::take(&mut *self.touched.lock().unwrap_or_else(PoisonError::into_inner));
        if committed && !touched.is_empty() {
            // nobody listening is no fault
            drop(self.tell.send(Changed(Arc::new(touched))));
        }
    }

    pub(in crate::store) fn listen(&self) -> broadcast::Receiver<Changed> {
        self.tell.subscribe()
    }
}
