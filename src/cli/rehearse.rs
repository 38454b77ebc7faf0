//! `shimlight rehearse`: a restore tried out where it harms nothing.

use std::{
    path::{Path, PathBuf},
    process::ExitCode,
};

use anyhow::{Context, bail};
use clap::Args;

use super::{beside, database, kept_backups, restore, scratch::Scratch};
use crate::{
    clock::World,
    store::{self, Stamp},
};

#[derive(Debug, Args)]
pub struct Options {
    /// The folder of the daily backups, of which the newest is taken, or one backup
    from: PathBuf,
}

pub async fn run(path: &Path, options: &Options) -> anyhow::Result<ExitCode> {
    let backup = newest(&options.from)?;
    let scratch = Scratch::new("rehearsal")?;
    let began = tokio::time::Instant::now();
    let put_back = scratch.path().join("shimlight.db");
    let taken = restore::take_in(&backup, &put_back).await.context("the rehearsal failed")?;
    let rows: i64 = store::count_rows(&put_back).await?.values().sum();
    let seconds = began.elapsed().as_secs_f64();
    say!(
        "{} was put back into a scratch folder in {seconds:.1} s: {rows} rows, checked and sound{}. The scratch folder is \
         thrown away.",
        backup.display(),
        taken.told
    );
    // the front bench of the database beside says so; a rehearsal on another machine has none
    if beside::is_there(path)
        && store::is_current(path).await.unwrap_or(false)
        && let Err(error) = note(path).await
    {
        tracing::warn!("the rehearsal passed, but the front bench will not show it: {error:#}");
    }
    Ok(ExitCode::SUCCESS)
}

fn newest(from: &Path) -> anyhow::Result<PathBuf> {
    if !from.is_dir() {
        if !from.is_file() {
            bail!("there is no backup at {}", from.display());
        }
        return Ok(from.to_owned());
    }
    let days = kept_backups::list(from).with_context(|| format!("{} cannot be read", from.display()))?;
    match days.last() {
        Some(day) => Ok(from.join(kept_backups::name_of(*day))),
        None => bail!("{} holds no daily backup", from.display()),
    }
}

async fn note(path: &Path) -> anyhow::Result<()> {
    let (store, _lock) = database::open_existing(path).await?;
    let now = World::system().now();
    let noted = store.write(Stamp::server(now), move |tx| {
        Box::pin(async move {
            store::people::change_log::insert_rehearsal(tx, now).await?;
            Ok("/front".to_owned())
        })
    });
    let noted = noted.await;
    store.close().await;
    noted?;
    Ok(())
}
