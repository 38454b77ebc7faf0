//! `shimlight export`

use std::{
    path::{Path, PathBuf},
    process::ExitCode,
};

use clap::Args;

use super::database;
use crate::{export, store::Store};

#[derive(Debug, Args)]
pub struct Options {
    /// The folder to write the CSV files into; made if it is not there
    #[arg(long, value_name = "DIR", env = "SHIMLIGHT_EXPORT_INTO")]
    into: PathBuf,
}

pub async fn run(path: &Path, options: &Options) -> anyhow::Result<ExitCode> {
    let (store, _lock) = database::open_existing(path).await?;
    let written = write_all(&store, &options.into).await;
    store.close().await;
    say!("{} files written into {}.", written?.len(), options.into.display());
    Ok(ExitCode::SUCCESS)
}

async fn write_all(store: &Store, folder: &Path) -> anyhow::Result<Vec<PathBuf>> {
    let mut conn = store.read().await?;
    Ok(export::write_everything(&mut conn, folder).await?)
}
