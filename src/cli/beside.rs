//! The database file as it stands on the disk, and what stands beside it.

use std::{
    fs::{self, File},
    io::Read as _,
    path::{Path, PathBuf},
};

use crate::store::{FileId, engine::own_files::with_ending};

/// Whether a database stands there; an empty file is none.
pub fn is_there(database: &Path) -> bool {
    fs::metadata(database).is_ok_and(|data| data.is_file() && data.len() > 0)
}

/// Which file was last served under this name, as far as it is remembered.
pub fn last_served(database: &Path) -> Option<FileId> {
    let mut words = String::new();
    File::open(lock_file(database)).ok()?.take(4096).read_to_string(&mut words).ok()?;
    let mut numbers = words.lines().find_map(|line| line.strip_prefix("file "))?.split(' ').map(str::parse);
    Some(FileId { device: numbers.next()?.ok()?, inode: numbers.next()?.ok()? })
}

/// The file that is held while the database is served.
pub fn lock_file(database: &Path) -> PathBuf {
    beside(database, "lock-serve")
}

/// The file beside the database whose name adds `.ending` to its own.
pub fn beside(database: &Path, ending: &str) -> PathBuf {
    with_ending(database, &format!(".{ending}"))
}
