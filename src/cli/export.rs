//! `shimlight export`

use std::{fs, path::Path, path::PathBuf, process::ExitCode};

use anyhow::Context;
use clap::Args;

use super::database;

#[derive(Debug, Args)]
pub struct Options {
    /// The folder to write the CSV files into; made if it is not there
    #[arg(long, value_name = "DIR")]
    into: PathBuf,
}

pub async fn run(path: &Path, options: &Options) -> anyhow::Result<ExitCode> {
    let (store, _lock) = database::open_existing(path).await?;
    fs::create_dir_all(&options.into).with_context(|| format!("cannot make {}", options.into.display()))?;
    store.close().await;
    Ok(ExitCode::SUCCESS)
}
