//! `shimlight backup`, and the daily backup of `serve --backup-into`.

use std::{
    fs,
    path::{Path, PathBuf},
    process::ExitCode,
};

use anyhow::{Context, bail};
use clap::Args;

use super::database;
use crate::{
    clock::World,
    domain::instant::Instant,
    store::{self, Stamp, Store},
};

#[derive(Debug, Args)]
pub struct Options {
    /// The file to write; it must not exist yet
    file: PathBuf,
}

pub async fn run(path: &Path, options: &Options) -> anyhow::Result<ExitCode> {
    database::must_exist(path)?;
    if options.file.exists() {
        bail!("{} is there already: choose another name", options.file.display());
    }
    whole_or_not_at_all(path, &options.file).await?;
    say!("{} now holds a copy of {}.", options.file.display(), path.display());
    // only in a database of this version: a backup before an upgrade must leave the old one as it is
    if store::is_current(path).await?
        && let Err(error) = note(path).await
    {
        tracing::warn!("the backup is good, but the front bench will not show it: {error:#}");
    }
    Ok(ExitCode::SUCCESS)
}

/// Notes in the database itself that a backup was made.
async fn note(path: &Path) -> anyhow::Result<()> {
    let (store, _lock) = database::open_existing(path).await?;
    let noted = note_in(&store, &World::system()).await;
    store.close().await;
    noted
}

async fn note_in(store: &Store, world: &World) -> anyhow::Result<()> {
    let now = world.now();
    let stamp = Stamp::server(now);
    store
        .write(stamp, move |tx| {
            Box::pin(async move {
                store::change_log::insert_backup(tx, now).await?;
                Ok("/front".to_owned())
            })
        })
        .await?;
    Ok(())
}

/// Writes the copy under another name first, so that half a backup is never taken for one.
async fn whole_or_not_at_all(database: &Path, to: &Path) -> anyhow::Result<()> {
    let part = database::beside(to, "part");
    drop(fs::remove_file(&part));
    store::copy(database, &part).await.with_context(|| format!("the copy to {} failed", to.display()))?;
    fs::File::open(&part)?.sync_all()?;
    fs::rename(&part, to)?;
    if let Some(folder) = to.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        fs::File::open(folder)?.sync_all()?;
    }
    Ok(())
}

/// Makes today's backup unless it is there, and lets all but the newest `keep` go.
pub async fn daily(store: &Store, world: &World, folder: &Path, keep: u16) -> anyhow::Result<()> {
    fs::create_dir_all(folder)?;
    let name = file_name(world.now());
    let to = folder.join(&name);
    if !to.exists() {
        whole_or_not_at_all(store.path(), &to).await?;
        note_in(store, world).await?;
        tracing::info!(file = name, "the day's backup is made");
    }
    for old in past_keeping(list(folder)?, keep) {
        fs::remove_file(folder.join(old))?;
    }
    Ok(())
}

/// `shimlight-2026-03-20.db`; the day is that of UTC, whatever zone the sites are in.
fn file_name(now: Instant) -> String {
    format!("shimlight-{}.db", now.local(&jiff::tz::TimeZone::UTC).date())
}

/// The daily backups in the folder; other files there are none of ours.
fn list(folder: &Path) -> anyhow::Result<Vec<String>> {
    let mut names = Vec::new();
    for entry in fs::read_dir(folder)? {
        let name = entry?.file_name().to_string_lossy().into_owned();
        let date = name.strip_prefix("shimlight-").and_then(|rest| rest.strip_suffix(".db"));
        if date.is_some_and(|date| date.parse::<jiff::civil::Date>().is_ok()) {
            names.push(name);
        }
    }
    Ok(names)
}

/// All but the newest `keep`.
fn past_keeping(mut names: Vec<String>, keep: u16) -> Vec<String> {
    names.sort_unstable();
    names.truncate(names.len().saturating_sub(usize::from(keep)));
    names
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_backups_are_kept() {
        let names = ["shimlight-2026-03-19.db", "shimlight-2026-03-21.db", "shimlight-2026-03-20.db"];
        let past = past_keeping(names.map(str::to_owned).to_vec(), 2);
        assert_eq!(past, ["shimlight-2026-03-19.db"]);
        assert!(past_keeping(names.map(str::to_owned).to_vec(), 3).is_empty());
    }
}
