//! A folder among the temporary ones that is thrown away again.

use std::{
    fs::{self, DirBuilder},
    os::unix::fs::DirBuilderExt,
    path::{Path, PathBuf},
};

use anyhow::Context;

use crate::clock::Chance;

/// A new folder, its owner's alone; it goes with all that is in it when this is dropped.
pub struct Scratch(PathBuf);

impl Scratch {
    /// Makes one whose name says what it is for.
    ///
    /// # Errors
    /// When it cannot be made.
    pub fn new(purpose: &str) -> anyhow::Result<Self> {
        let name = Chance::System.bytes::<6>().map(|byte| format!("{byte:02x}")).concat();
        let folder = std::env::temp_dir().join(format!("shimlight-{purpose}-{name}"));
        let made = DirBuilder::new().mode(0o700).create(&folder);
        made.with_context(|| format!("cannot make {}", folder.display()))?;
        Ok(Self(folder))
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        if let Err(error) = fs::remove_dir_all(&self.0) {
            tracing::warn!(%error, folder = %self.0.display(), "a scratch folder could not be removed");
        }
    }
}
