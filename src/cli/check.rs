//! `shimlight check`

use std::{
    path::{Path, PathBuf},
    process::ExitCode,
};

use anyhow::bail;
use clap::Args;

use super::{
    database,
    faults::{faults, faults_of_copy},
    manifest,
};

#[derive(Debug, Args)]
pub struct Options {
    /// A backup to prove instead of the database; it stays as it is
    backup: Option<PathBuf>,
}

pub async fn run(path: &Path, options: &Options) -> anyhow::Result<ExitCode> {
    if let Some(backup) = &options.backup {
        if !backup.is_file() {
            bail!("there is no backup at {}", backup.display());
        }
        let unchanged = match manifest::compare(backup)? {
            manifest::Compared::Same => ", and unchanged since it was made",
            manifest::Compared::None => {
                "; whether it changed since it was made is not known, it has no tally beside it"
            }
        };
        return Ok(tell(backup, &faults_of_copy(backup).await?.all(), unchanged));
    }
    let (store, _lock) = database::open_existing(path).await?;
    let faults = faults(&store).await;
    store.close().await;
    Ok(tell(path, &faults?.all(), ""))
}

fn tell(path: &Path, faults: &[String], more: &str) -> ExitCode {
    if faults.is_empty() {
        say!("{}: sound{more}.", path.display());
        return ExitCode::SUCCESS;
    }
    say!("{}: {} found wrong:", path.display(), faults.len());
    for fault in faults {
        say!("  {fault}");
    }
    ExitCode::FAILURE
}
