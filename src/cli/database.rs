//! Who may touch the database file: one server at a time holds the lock beside it.

use std::{
    fs::{File, TryLockError},
    path::{Path, PathBuf},
};

use anyhow::{Context, bail};

use crate::store::Store;

/// Held by whoever has the database for itself; let go when dropped or when the process ends,
/// however it ends.
#[derive(Debug)]
pub struct Lock {
    _file: File,
}

/// Takes the database for itself; `None` when somebody else holds it.
///
/// # Errors
/// When the lock file cannot be made.
pub fn try_lock(database: &Path) -> anyhow::Result<Option<Lock>> {
    let path = beside(database, "lock-serve");
    // never removed: a lock on a file that was deleted would keep nobody out
    let file = File::options()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path)
        .with_context(|| format!("the lock file {} cannot be made", path.display()))?;
    match file.try_lock() {
        Ok(()) => Ok(Some(Lock { _file: file })),
        Err(TryLockError::WouldBlock) => Ok(None),
        Err(TryLockError::Error(error)) => {
            Err(error).with_context(|| format!("the lock file {} cannot be used", path.display()))
        }
    }
}

/// Opens a database that must be there already, whether or not it is being served. The lock, when
/// it was free, is to be held as long as the store is used.
///
/// # Errors
/// When there is none, or it cannot be used.
pub async fn open_existing(database: &Path) -> anyhow::Result<(Store, Option<Lock>)> {
    must_exist(database)?;
    let lock = try_lock(database)?;
    if lock.is_none() && !crate::store::is_current(database).await? {
        bail!("{} is being served by another version of Shimlight: use that one's program", database.display());
    }
    Ok((Store::open(database).await?, lock))
}

/// # Errors
/// When there is no such file.
pub fn must_exist(database: &Path) -> anyhow::Result<()> {
    if !database.is_file() {
        bail!(
            "there is no database at {}: name it with --database, or start one with `shimlight serve`",
            database.display()
        );
    }
    Ok(())
}

/// The file beside the database whose name adds `.ending` to its own.
pub fn beside(database: &Path, ending: &str) -> PathBuf {
    let mut name = database.file_name().unwrap_or_default().to_owned();
    name.push(".");
    name.push(ending);
    database.with_file_name(name)
}
