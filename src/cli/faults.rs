//! What is wrong with a database, in words.

use std::path::Path;

use crate::store::{self, Store, engine::check::Found};

/// Everything that is wrong with a database.
///
/// # Errors
/// When it cannot be read.
pub async fn faults(store: &Store) -> anyhow::Result<Found> {
    Ok(store::engine::check::in_words(&mut *store.read().await?).await?)
}

/// Everything that is wrong with a backup, of whatever schema; the file stays as it is.
///
/// # Errors
/// When it cannot be read.
pub async fn faults_of_copy(file: &Path) -> anyhow::Result<Found> {
    Ok(store::engine::check::copy_in_words(file).await?)
}
