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
    let (mut of_old, others) = faults_by_age(store).await?;
    of_old.extend(others);
    Ok(of_old)
}

/// What an earlier version let be wrong at an earlier date, and everything else that is wrong.
///
/// # Errors
/// When it cannot be read.
pub async fn faults_by_age(store: &Store) -> anyhow::Result<(Vec<String>, Vec<String>)> {
    let mut conn = store.read().await?;
    match store::check::run(&mut conn).await {
        Ok(found) => {
            let (of_old, others): (Vec<_>, Vec<_>) = found.into_iter().partition(|fault| fault.is_of_old);
            let said = |faults: Vec<store::check::Fault>| faults.iter().map(ToString::to_string).collect();
            Ok((said(of_old), said(others)))
        }
        Err(error) => {
            // a damaged file may not even answer about its book: then say what is damaged
            let damage = store::integrity::faults(&mut conn).await?;
            if damage.is_empty() { Err(error.into()) } else { Ok((Vec::new(), damage)) }
        }
    }
}
