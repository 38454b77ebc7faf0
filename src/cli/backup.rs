//! `shimlight backup`, and the daily backup of `serve --backup-into`.

use std::{
    fs::{self, File},
    path::{Path, PathBuf},
    process::ExitCode,
};

use anyhow::{Context, bail};
use clap::Args;
use tokio::signal::unix;

use super::{beside, database, faults, kept_backups, manifest, traces};
use crate::{
    clock::World,
    domain::instant::Instant,
    store::{self, Stamp, Store, engine::own_files},
};

#[derive(Debug, Args)]
pub struct Options {
    /// The file to write; it must not exist yet
    file: PathBuf,
}

pub async fn run(path: &Path, options: &Options) -> anyhow::Result<ExitCode> {
    database::must_stand(path).await?;
    if options.file.exists() {
        bail!("{} is there already: choose another name", options.file.display());
    }
    let world = World::system();
    let (mut terminate, mut interrupt) =
        (unix::signal(unix::SignalKind::terminate())?, unix::signal(unix::SignalKind::interrupt())?);
    let written = tokio::select! {
        written = whole_or_not_at_all(path, &options.file, world.now()) => written,
        _ = terminate.recv() => Err(anyhow::anyhow!("told to stop; no backup was made")),
        _ = interrupt.recv() => Err(anyhow::anyhow!("told to stop; no backup was made")),
    };
    if let Err(error) = written {
        drop(fs::remove_file(part_of(&options.file)));
        return Err(error);
    }
    say!("{} now holds a copy of {}, checked and sound.", options.file.display(), path.display());
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
                store::people::change_log::insert_backup(tx, now).await?;
                Ok("/front".to_owned())
            })
        })
        .await?;
    Ok(())
}

fn part_of(to: &Path) -> PathBuf {
    beside::beside(to, "part")
}

/// Writes the copy under another name first and checks it there, so that half a backup, or one that is not
/// sound, is never taken for one. Its tally comes before its name: a backup without one is of an older
/// Shimlight.
async fn whole_or_not_at_all(database: &Path, to: &Path, now: Instant) -> anyhow::Result<()> {
    let part = part_of(to);
    let folder = own_files::folder_of(to);
    remove_left_parts(folder, &part).with_context(|| format!("the copy to {} failed", to.display()))?;
    let failed = || format!("the copy to {} failed", to.display());
    let file = own_files::create_new(&part).with_context(failed)?;
    // held while it is written: whoever finds it unheld knows that its backup was killed
    file.lock().with_context(failed)?;
    store::copy_into(database, &part).await.with_context(failed)?;
    file.sync_all()?;
    let faults = faults::faults_of_copy(&part).await?.others;
    if let Some(first) = faults.first() {
        drop(fs::remove_file(&part));
        bail!("{} is not sound, and was not backed up: {first} (and {} more)", database.display(), faults.len() - 1);
    }
    manifest::write(to, &part, now, &store::count_rows(&part).await?)?;
    fs::rename(&part, to)?;
    own_files::sync_folder_of(to)?;
    Ok(())
}

/// Removes what backups into this folder left that were killed: this part, and others that are a
/// database's. Other people's are left alone, and so is one that is being written.
fn remove_left_parts(folder: &Path, part: &Path) -> std::io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let ours = path.as_os_str().as_encoded_bytes().ends_with(b".db.part") || path.file_name() == part.file_name();
        if ours && File::open(&path).is_ok_and(|file| file.try_lock().is_ok()) {
            traces::remove(&path);
        }
    }
    Ok(())
}

/// Makes today's backup unless it is there, and lets those go that are past keeping.
pub async fn daily(store: &Store, world: &World, folder: &Path, keep: u16) -> anyhow::Result<()> {
    own_files::create_folder(folder)?;
    let name = kept_backups::file_name(world.now());
    let to = folder.join(&name);
    if !to.exists() {
        if let Err(error) = whole_or_not_at_all(store.path(), &to, world.now()).await {
            drop(fs::remove_file(part_of(&to)));
            return Err(error);
        }
        note_in(store, world).await?;
        tracing::info!(file = name, "the day's backup is made");
    }
    for old in kept_backups::past_keeping(kept_backups::list(folder)?, keep) {
        let old = folder.join(kept_backups::name_of(old));
        fs::remove_file(&old)?;
        drop(fs::remove_file(manifest::beside(&old)));
    }
    Ok(())
}
