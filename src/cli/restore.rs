//! `shimlight restore`

use std::{
    fs,
    path::{Path, PathBuf},
    process::ExitCode,
};

use anyhow::{Context, bail};
use clap::Args;

use super::{check, database};
use crate::{
    clock::World,
    store::{self, Store},
};

#[derive(Debug, Args)]
pub struct Options {
    /// The backup to put in the database's place
    file: PathBuf,
}

pub async fn run(path: &Path, options: &Options) -> anyhow::Result<ExitCode> {
    if !options.file.is_file() {
        bail!("there is no backup at {}", options.file.display());
    }
    let Some(_lock) = database::try_lock(path)? else {
        bail!("{} is being served: stop the server first", path.display());
    };
    // everything happens to a copy, so that neither the backup nor the old file can be harmed
    let incoming = database::beside(path, "incoming");
    remove(&incoming);
    let of_old = match take_in(&options.file, &incoming).await {
        Ok(of_old) => of_old,
        Err(error) => {
            remove(&incoming);
            return Err(error.context("nothing was changed"));
        }
    };
    let kept = set_aside(path)?;
    fs::rename(&incoming, path).with_context(|| format!("cannot write {}", path.display()))?;
    say!("{} now holds what {} held, checked and sound.", path.display(), options.file.display());
    for fault in of_old {
        say!("An earlier version let be written, and still to be put right: {fault}");
    }
    if let Some(kept) = kept {
        say!("What was there before is kept as {}.", kept.display());
    }
    Ok(ExitCode::SUCCESS)
}

/// Copies the backup, brings its schema up to date, and checks it. Gives what is wrong of old and keeps nobody
/// from the book.
async fn take_in(backup: &Path, incoming: &Path) -> anyhow::Result<Vec<String>> {
    store::copy(backup, incoming).await.with_context(|| format!("{} cannot be read as a backup", backup.display()))?;
    if !store::is_ours(incoming).await? {
        bail!("{} is not a database of Shimlight", backup.display());
    }
    let store = Store::open(incoming).await?;
    let (of_old, faults) = check::faults_by_age(&store).await?;
    store.close().await;
    if let Some(first) = faults.first() {
        bail!("{} is not sound: {first} (and {} more)", backup.display(), faults.len() - 1);
    }
    fs::File::open(incoming)?.sync_all()?;
    Ok(of_old)
}

/// Renames the old file (and what belongs to it) to a name that is free.
fn set_aside(path: &Path) -> anyhow::Result<Option<PathBuf>> {
    if !path.exists() {
        return Ok(None);
    }
    let stamp = World::system().now().local(&jiff::tz::TimeZone::UTC).strftime("%Y%m%dT%H%M%SZ").to_string();
    let mut kept = database::beside(path, &format!("replaced-{stamp}"));
    let mut count = 1;
    while kept.exists() {
        count += 1;
        kept = database::beside(path, &format!("replaced-{stamp}-{count}"));
    }
    for ending in ["-wal", "-shm", ""] {
        let (from, to) = (with_ending(path, ending), with_ending(&kept, ending));
        if from.exists() {
            fs::rename(&from, &to).with_context(|| format!("cannot set {} aside", from.display()))?;
        }
    }
    Ok(Some(kept))
}

fn remove(path: &Path) {
    for ending in ["", "-wal", "-shm"] {
        drop(fs::remove_file(with_ending(path, ending)));
    }
}

fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut whole = path.as_os_str().to_owned();
    whole.push(ending);
    whole.into()
}
