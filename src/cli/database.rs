//! Who may touch the database file, and whether it is the one that was last served.
//!
//! Two locks keep a second server out: one on a file beside the database, which is there before the
//! database is, and one on the database file itself, whatever name it is called by. The file beside
//! also remembers which file was last served: where one was known, no new one is begun unasked.

use std::{
    fs::{self, File, TryLockError},
    io::{Seek, Write},
    mem::ManuallyDrop,
    path::{Path, PathBuf},
};

use anyhow::{Context, bail};

use super::{
    beside::{is_there, last_served, lock_file},
    traces,
};
use crate::store::{self, FileId, Store, engine::own_files};

/// Held by whoever has the database for itself; let go when dropped or when the process ends,
/// however it ends.
#[derive(Debug)]
pub struct Lock {
    beside: File,
    /// Kept until the process ends: closing any handle of a file drops the locks that SQLite has on it
    /// in the same process.
    itself: Option<ManuallyDrop<File>>,
}

impl Lock {
    /// Remembers that this database is known here, and which file it is.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn remember(&mut self, database: &Path) -> anyhow::Result<()> {
        let Some(FileId { device, inode }) = FileId::at(database) else { return Ok(()) };
        let name = database.file_name().unwrap_or_default().to_string_lossy();
        let words = format!("A database of Shimlight was served here: {name}\nfile {device} {inode}\n");
        self.beside.rewind()?;
        self.beside.write_all(words.as_bytes())?;
        self.beside.set_len(words.len() as u64)?;
        self.beside.sync_all()?;
        Ok(())
    }

    /// Has the database file held too, by whatever name it is called; `false` when somebody else holds it.
    /// Also for one that was only made under the lock.
    ///
    /// # Errors
    /// When it cannot be opened.
    pub fn hold(&mut self, database: &Path) -> anyhow::Result<bool> {
        if self.itself.is_some() {
            return Ok(true);
        }
        let file = match File::open(database) {
            Ok(file) => ManuallyDrop::new(file),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(true),
            Err(error) => return Err(error).with_context(|| format!("{} cannot be opened", database.display())),
        };
        match file.try_lock() {
            Ok(()) => {
                self.itself = Some(file);
                Ok(true)
            }
            Err(TryLockError::WouldBlock) => Ok(false),
            Err(TryLockError::Error(error)) => {
                Err(error).with_context(|| format!("{} cannot be locked", database.display()))
            }
        }
    }
}

/// Takes the database for itself; `None` when somebody else holds it, by whatever name.
///
/// # Errors
/// When the lock file cannot be made.
pub fn try_lock(database: &Path) -> anyhow::Result<Option<Lock>> {
    let path = lock_file(database);
    // never removed: a lock on a file that was deleted would keep nobody out
    let file = match own_files::create_new(&path) {
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
            File::options().read(true).write(true).open(&path)
        }
        made => made,
    };
    let beside = file.with_context(|| format!("the lock file {} cannot be made", path.display()))?;
    match beside.try_lock() {
        Ok(()) => {
            let mut lock = Lock { beside, itself: None };
            Ok(lock.hold(database)?.then_some(lock))
        }
        Err(TryLockError::WouldBlock) => Ok(None),
        Err(TryLockError::Error(error)) => {
            Err(error).with_context(|| format!("the lock file {} cannot be used", path.display()))
        }
    }
}

/// The database's own path: where a link leads. Everything beside it stands where it stands itself.
///
/// # Errors
/// When it is a link to a file that is not there, as when a disk was not plugged in.
pub fn resolved(database: &Path) -> anyhow::Result<PathBuf> {
    if database.symlink_metadata().is_err() {
        return Ok(database.to_owned());
    }
    fs::canonicalize(database)
        .with_context(|| format!("{} leads to a file that is not there: is its disk plugged in?", database.display()))
}

/// Opens a database that must be there already, whether or not it is being served. The lock, when
/// it was free, is to be held as long as the store is used.
///
/// # Errors
/// When there is none, or it cannot be used.
pub async fn open_existing(database: &Path) -> anyhow::Result<(Store, Option<Lock>)> {
    must_stand(database).await?;
    let lock = try_lock(database)?;
    if lock.is_none() && !store::is_current(database).await? {
        bail!("{} is being served by another version of Shimlight: use that one's program", database.display());
    }
    Ok((Store::open(database).await?, lock))
}

/// Makes sure that the file is there, and that what stands beside it is its own.
///
/// # Errors
/// When there is no such file, or it is not the one that is served, or the log beside it is another's.
pub async fn must_stand(database: &Path) -> anyhow::Result<()> {
    if !is_there(database) {
        bail!(
            "there is no database at {}: name it with --database, or start one with `shimlight serve`",
            database.display()
        );
    }
    if last_served(database).is_none_or(|last| FileId::at(database) == Some(last)) {
        return Ok(());
    }
    if is_served(database) {
        bail!(
            "{} was moved or replaced under the server that runs: stop it first, its log says where a copy stands",
            database.display()
        );
    }
    traces::prove_log(database).await
}

/// Whether somebody holds the file beside the database.
fn is_served(database: &Path) -> bool {
    File::open(lock_file(database)).is_ok_and(|file| matches!(file.try_lock(), Err(TryLockError::WouldBlock)))
}
