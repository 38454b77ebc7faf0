//! Whether the files that SQLite has open still stand where they were opened, and whether they were
//! found damaged.
//!
//! SQLite does not notice that its file was deleted or another one moved into its place: it goes on
//! writing to a file that nobody finds again.

use std::{
    fs, io,
    os::unix::fs::MetadataExt,
    path::{Path, PathBuf},
    sync::{Mutex, PoisonError},
};

use super::own_files::with_ending;

/// What is wrong with the database file itself, as opposed to a disk that is full.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Trouble {
    /// The path leads to another file than the one that is open, or to none.
    #[error("the database file was moved or replaced; nothing is saved any more")]
    Moved,
    /// What SQLite read cannot be what was written.
    #[error("the database file is damaged: {0}")]
    Damaged(String),
}

/// Which file it is, whatever it is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FileId {
    /// The device it is on.
    pub device: u64,
    /// Its number there.
    pub inode: u64,
}

impl FileId {
    /// The file this path leads to, if there is one.
    pub fn at(path: &Path) -> Option<Self> {
        fs::metadata(path).ok().map(|data| Self { device: data.dev(), inode: data.ino() })
    }
}

/// The files of an open database: itself, its write-ahead log, and the index of that log.
#[derive(Debug)]
pub(in crate::store) struct Standing {
    files: Vec<(PathBuf, FileId)>,
    damage: Mutex<Option<String>>,
}

impl Standing {
    /// Notes which files stand there now; to be asked while a connection is open, so that it is those.
    pub(in crate::store) fn of(path: &Path) -> io::Result<Self> {
        let itself = FileId::at(path).ok_or(io::ErrorKind::NotFound)?;
        let mut files = vec![(path.to_owned(), itself)];
        for ending in ["-wal", "-shm"] {
            let beside = with_ending(path, ending);
            files.extend(FileId::at(&beside).map(|id| (beside, id)));
        }
        Ok(Self { files, damage: Mutex::default() })
    }

    /// Whether one of them is not where it was.
    pub(in crate::store) fn moved(&self) -> bool {
        self.files.iter().any(|(path, id)| FileId::at(path) != Some(*id))
    }

    /// Whether a file beside the database is somebody else's: closing the last connection would
    /// delete it.
    pub(in crate::store) fn others_beside(&self) -> bool {
        self.files.iter().skip(1).any(|(path, id)| FileId::at(path).is_some_and(|there| there != *id))
    }

    /// Remembers that something read could not be what was written.
    pub(in crate::store) fn note_damage(&self, what: &str) {
        let mut damage = self.damage.lock().unwrap_or_else(PoisonError::into_inner);
        damage.get_or_insert_with(|| what.to_owned());
    }

    /// What is wrong now; being moved is looked up anew each time, damage stays.
    pub(in crate::store) fn trouble(&self) -> Option<Trouble> {
        if self.moved() {
            return Some(Trouble::Moved);
        }
        self.damage.lock().unwrap_or_else(PoisonError::into_inner).clone().map(Trouble::Damaged)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_was_moved_or_replaced_is_noticed_and_one_put_back_is_well() {
        let folder = tempfile::tempdir().expect("a folder");
        let (path, aside) = (folder.path().join("a.db"), folder.path().join("aside"));
        let wal = with_ending(&path, "-wal");
        fs::write(&path, "one").expect("written");
        fs::write(&wal, "log").expect("written");
        let standing = Standing::of(&path).expect("there");
        assert_eq!(standing.trouble(), None);
        fs::write(&path, "written to").expect("written");
        assert_eq!(standing.trouble(), None, "written to is not moved");

        fs::rename(&path, &aside).expect("moved");
        assert_eq!(standing.trouble(), Some(Trouble::Moved));
        fs::write(&path, "another").expect("written");
        assert_eq!(standing.trouble(), Some(Trouble::Moved));
        assert!(!standing.others_beside());
        fs::rename(&aside, &path).expect("put back");
        assert_eq!(standing.trouble(), None);

        // the old log is kept, so that its number is not given to the new one
        fs::rename(&wal, &aside).expect("moved");
        fs::write(&wal, "another's log").expect("written");
        assert_eq!((standing.trouble(), standing.others_beside()), (Some(Trouble::Moved), true));
        fs::rename(&aside, &wal).expect("put back");
        standing.note_damage("page 7");
        standing.note_damage("page 9");
        assert_eq!(standing.trouble(), Some(Trouble::Damaged("page 7".to_owned())));
    }
}
