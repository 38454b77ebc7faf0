//! `shimlight check`

use std::{path::Path, process::ExitCode};

use super::database;
use crate::store::{self, Store};

pub async fn run(path: &Path) -> anyhow::Result<ExitCode> {
    let (store, _lock) = database::open_existing(path).await?;
    let faults = faults(&store).await?;
    store.close().await;
    if faults.is_empty() {
        say!("{}: sound.", path.display());
        return Ok(ExitCode::SUCCESS);
    }
    say!("{}: {} found wrong:", path.display(), faults.len());
    for fault in faults {
        say!("  {fault}");
    }
    Ok(ExitCode::FAILURE)
}

/// Everything that is wrong with a database.
///
/// # Errors
/// When it cannot be read.
pub async fn faults(store: &Store) -> anyhow::Result<Vec<String>> {
    let mut conn = store.read().await?;
    match store::check::run(&mut conn).await {
        Ok(found) => Ok(found.iter().map(ToString::to_string).collect()),
        Err(error) => {
            // a damaged file may not even answer about its book: then say what is damaged
            let damage = store::integrity::faults(&mut conn).await?;
            if damage.is_empty() { Err(error.into()) } else { Ok(damage) }
        }
    }
}
