//! Files and folders made by the program: their owner's alone, since they hold names and marks.

use std::{
    fs::{DirBuilder, File, OpenOptions},
    io::{self, Write},
    os::unix::fs::{DirBuilderExt, OpenOptionsExt},
    path::{Path, PathBuf},
};

/// Readable and writable by the owner.
const FILE_MODE: u32 = 0o600;
/// The same for a folder.
const FOLDER_MODE: u32 = 0o700;

/// Makes an empty file that must not be there yet.
///
/// # Errors
/// When it is there, or cannot be made.
pub fn create_new(path: &Path) -> io::Result<File> {
    OpenOptions::new().read(true).write(true).create_new(true).mode(FILE_MODE).open(path)
}

/// Writes a whole file; one that is there is written over and keeps who may read it.
///
/// # Errors
/// When it cannot be written.
pub fn write(path: &Path, bytes: &[u8]) -> io::Result<()> {
    OpenOptions::new().write(true).create(true).truncate(true).mode(FILE_MODE).open(path)?.write_all(bytes)
}

/// Makes a folder and those above it, unless they are there.
///
/// # Errors
/// When one cannot be made.
pub fn create_folder(path: &Path) -> io::Result<()> {
    DirBuilder::new().recursive(true).mode(FOLDER_MODE).create(path)
}

/// Has the disk keep which names stand in the folder of this file.
///
/// # Errors
/// When the folder cannot be opened or the disk refuses.
pub fn sync_folder_of(path: &Path) -> io::Result<()> {
    File::open(folder_of(path))?.sync_all()
}

/// The folder a file stands in.
pub fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// The path with something added to its name, as SQLite names the files beside its own.
pub fn with_ending(path: &Path, ending: &str) -> PathBuf {
    let mut whole = path.as_os_str().to_owned();
    whole.push(ending);
    whole.into()
}

/// The first of `shimlight.db.ENDING`, `shimlight.db.ENDING-2` and so on that is not taken.
pub fn free_name(path: &Path, ending: &str) -> PathBuf {
    let plain = with_ending(path, &format!(".{ending}"));
    let numbered = (2..).map(|number| with_ending(path, &format!(".{ending}-{number}")));
    let free = |name: &PathBuf| name.symlink_metadata().is_err();
    std::iter::once(plain.clone()).chain(numbered).find(free).unwrap_or(plain)
}
