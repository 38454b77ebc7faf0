//! Opening the database file: connections, the writer, backup.

use std::{
    path::{Path, PathBuf},
    sync::Arc,
    time::Duration,
};

use sqlx::{
    Connection, SqliteConnection, SqlitePool,
    pool::PoolConnection,
    sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous},
};
use tokio::sync::{broadcast, mpsc, oneshot};

use crate::domain::instant::Instant;

use super::{
    changes::{Changed, Changes},
    commits::Commits,
    migrate::{self, OpenError},
    own_files, receipts,
    standing::{FileId, Standing},
    writer::{self, Job},
};
use crate::store::{Counted, Error, Landing, Stamp, Trouble, Work, WriteError};

/// How many pages can be read at the same time.
const READERS: u32 = 4;

/// How many writes may wait before a further one waits for a place.
const QUEUE: usize = 1024;

/// A connection to read with, lent by the pool.
pub type ReadConnection = PoolConnection<sqlx::Sqlite>;

/// The database: a few readers that never wait, and one writer.
#[derive(Clone, Debug)]
pub struct Store {
    readers: SqlitePool,
    jobs: mpsc::Sender<Job>,
    path: PathBuf,
    commits: Arc<Commits>,
    changes: Arc<Changes>,
    standing: Arc<Standing>,
}

impl Store {
    /// Opens the file, making it if it is not there, and brings its schema up to date (after a copy
    /// of the file as it was).
    ///
    /// # Errors
    /// When the file cannot be used or its schema is not ours; see [`OpenError`].
    pub async fn open(path: &Path) -> Result<Self, OpenError> {
        let file = |source| OpenError::File { path: path.to_owned(), source };
        if FileId::at(path).is_none() {
            own_files::create_new(path).map_err(|error| file(error.into()))?;
        }
        migrate::up_to_date(path).await?;
        let before = FileId::at(path);
        // never used and never closed while the store is open: as long as it is there, SQLite keeps the
        // write-ahead log, so that another log at its path is another's
        let anchor = SqliteConnection::connect_with(&options(path).pragma("query_only", "ON")).await.map_err(file)?;
        let conn = writing_connection(path).await.map_err(file)?;
        let standing = Standing::of(path).map_err(|error| file(error.into()))?;
        if FileId::at(path) != before {
            return Err(file(replaced()));
        }
        let standing = Arc::new(standing);
        let readers = readers(path, &standing).await.map_err(file)?;
        let (jobs, queue) = mpsc::channel(QUEUE);
        let commits = Arc::new(Commits::default());
        let changes = Arc::new(Changes::default());
        let writer = writer::Writer {
            path: path.to_owned(),
            commits: Arc::clone(&commits),
            changes: Arc::clone(&changes),
            standing: Arc::clone(&standing),
        };
        tokio::spawn(writer.run(conn, anchor, queue));
        Ok(Self { readers, jobs, path: path.to_owned(), commits, changes, standing })
    }

    /// What is wrong with the file itself, if anything is: it was moved, or something read was damaged.
    pub fn trouble(&self) -> Option<Trouble> {
        self.standing.trouble()
    }

    /// Remembers that something read was damaged; [`Store::trouble`] tells it until the store is opened
    /// anew.
    pub fn note_damage(&self, what: &str) {
        self.standing.note_damage(what);
    }

    /// Whether a file of somebody else stands where the write-ahead log was: closing would delete it.
    pub fn others_beside(&self) -> bool {
        self.standing.others_beside()
    }

    /// The database file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// A connection to read with; it cannot write.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn read(&self) -> Result<ReadConnection, Error> {
        self.readers.acquire().await.map_err(Error::from)
    }

    /// Does one write, as a whole or not at all, and answers when it is on disk.
    ///
    /// Inside the closure: load, check the version, decide, write. It awaits only the connection:
    /// slow work (hashing, decoding) comes before. It gives back the path of the page that shows
    /// what was saved; a form sent twice is answered with that path without acting again.
    ///
    /// # Errors
    /// Whatever the closure refuses with; [`WriteError::SentBefore`]; [`WriteError::Storage`] when
    /// the database cannot take it, in which case nothing was stored.
    pub async fn write<F>(&self, stamp: Stamp, work: F) -> Result<Landing, WriteError>
    where
        F: for<'c> FnOnce(&'c mut SqliteConnection) -> Work<'c> + Send + 'static,
    {
        if !stamp.cut.is_empty() {
            return Err(WriteError::Refused(stamp.cut));
        }
        let (answer, answered) = oneshot::channel();
        let job = Job::Write { stamp: Box::new(stamp), work: Box::new(work), answer };
        let gone = || WriteError::Storage("the writer has stopped".to_owned());
        self.jobs.send(job).await.map_err(|_| gone())?;
        answered.await.map_err(|_| gone())?
    }

    /// Asks the writer whether it is there; writes nothing.
    pub async fn writer_answers(&self) -> bool {
        let (answer, answered) = oneshot::channel();
        let asked = tokio::time::timeout(Duration::from_secs(5), async {
            self.jobs.send(Job::Ping { answer }).await.is_ok() && answered.await.is_ok()
        });
        asked.await.unwrap_or(false)
    }

    /// Tells from now on which tables each commit touched, after it is on disk.
    pub fn changes(&self) -> broadcast::Receiver<Changed> {
        self.changes.listen()
    }

    /// Writes the file anew without anything that was deleted, its write-ahead log too.
    ///
    /// # Errors
    /// When the disk has no room for it, or somebody reads for too long; what was deleted is then
    /// overwritten in the file all the same, but may still stand in the log for a while.
    pub async fn scrub(&self) -> Result<(), WriteError> {
        let (answer, answered) = oneshot::channel();
        let gone = || WriteError::Storage("the writer has stopped".to_owned());
        self.jobs.send(Job::Scrub { answer }).await.map_err(|_| gone())?;
        answered.await.map_err(|_| gone())?
    }

    /// How many writes wait.
    pub fn queue_depth(&self) -> usize {
        self.jobs.max_capacity() - self.jobs.capacity()
    }

    /// What the writer did since the store was opened.
    pub fn counted(&self) -> Counted {
        self.commits.counted()
    }

    /// The size of the write-ahead log in bytes; zero when there is none.
    pub fn wal_bytes(&self) -> u64 {
        wal_bytes(&self.path)
    }

    /// Writes a consistent copy to `to`, which must not exist yet, while serving.
    ///
    /// # Errors
    /// When the copy cannot be written.
    pub async fn backup(&self, to: &Path) -> Result<(), Error> {
        copy(&self.path, to).await
    }

    /// For tests: makes the disk refuse from now on, or take again.
    #[doc(hidden)]
    pub async fn pretend(&self, disk: Disk) {
        let (answer, answered) = oneshot::channel();
        if self.jobs.send(Job::Pretend { disk, answer }).await.is_ok() {
            drop(answered.await);
        }
    }

    /// Drops what is past keeping: old receipts.
    ///
    /// # Errors
    /// When the database cannot be used.
    pub async fn tidy(&self, stamp: Stamp) -> Result<(), WriteError> {
        let now: Instant = stamp.at;
        self.write(stamp, move |tx| {
            Box::pin(async move {
                receipts::delete_old(tx, now).await?;
                Ok("/".to_owned())
            })
        })
        .await
        .map(drop)
    }

    /// Finishes what waits, then closes the file.
    pub async fn close(&self) {
        let (answer, answered) = oneshot::channel();
        if self.jobs.send(Job::Close { answer }).await.is_ok() {
            drop(answered.await);
        }
        self.readers.close().await;
    }
}

pub(in crate::store) fn wal_bytes(path: &Path) -> u64 {
    std::fs::metadata(own_files::with_ending(path, "-wal")).map_or(0, |data| data.len())
}

/// Writes a consistent copy of the database at `from` to `to`, which must not exist yet; `from` may
/// be served meanwhile.
///
/// # Errors
/// When `from` is not a database or the copy cannot be written.
pub async fn copy(from: &Path, to: &Path) -> Result<(), Error> {
    own_files::create_new(to).map_err(sqlx::Error::from)?;
    copy_into(from, to).await
}

/// The same into an empty file that is there.
///
/// # Errors
/// When `from` is not a database or the copy cannot be written.
pub async fn copy_into(from: &Path, to: &Path) -> Result<(), Error> {
    // its journal is left as it is: a backup on a read-only disk can be copied too
    let mut conn = look_at(from).await?;
    let target = to.to_string_lossy().into_owned();
    sqlx::query("VACUUM INTO ?").bind(target).execute(&mut conn).await?;
    conn.close().await?;
    Ok(())
}

/// A connection to read a file with that is to stay as it is, whatever its schema.
///
/// # Errors
/// When it cannot be opened.
pub async fn look_at(file: &Path) -> Result<SqliteConnection, Error> {
    let plain = SqliteConnectOptions::new().filename(file).busy_timeout(Duration::from_secs(5));
    Ok(SqliteConnection::connect_with(&plain).await?)
}

/// Writes the write-ahead log that stands beside a file into it, so that the file alone is whole.
///
/// # Errors
/// When the file cannot be used; it and its log are then as they were.
pub async fn fold_log(file: &Path) -> Result<(), Error> {
    let mut conn = look_at(file).await?;
    sqlx::query("PRAGMA wal_checkpoint(TRUNCATE)").fetch_all(&mut conn).await?;
    conn.close().await?;
    Ok(())
}

/// For tests: how the disk takes what is written. Each is made with SQLite's own means, so that the
/// errors are the ones a real disk causes.
#[doc(hidden)]
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Disk {
    /// As it is.
    #[default]
    Sound,
    /// No further page fits.
    Full,
    /// Nothing may be written.
    ReadOnly,
}

impl Disk {
    pub(in crate::store) fn pragmas(self) -> &'static str {
        match self {
            Self::Sound => "PRAGMA max_page_count = 4294967294; PRAGMA query_only = OFF",
            // below its present size, a file's limit is its present size
            Self::Full => "PRAGMA max_page_count = 1; PRAGMA query_only = OFF",
            Self::ReadOnly => "PRAGMA query_only = ON",
        }
    }
}

pub(in crate::store) fn options(path: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(path)
        // who may read it is settled before SQLite opens it
        .create_if_missing(false)
        .journal_mode(SqliteJournalMode::Wal)
        // acknowledged means on disk
        .synchronous(SqliteSynchronous::Full)
        .foreign_keys(true)
        .busy_timeout(Duration::from_secs(5))
        // a log that grew while somebody read for long is cut when it begins anew
        .pragma("journal_size_limit", writer::LONGEST_LOG.to_string())
        .pragma("trusted_schema", "OFF")
        .pragma("temp_store", "MEMORY")
        // what is deleted is overwritten
        .pragma("secure_delete", "ON")
}

/// Connections to read with. None is ever closed for being idle or old: opening one anew could open
/// another file.
async fn readers(path: &Path, standing: &Arc<Standing>) -> Result<SqlitePool, sqlx::Error> {
    let standing = Arc::clone(standing);
    let readers = SqlitePoolOptions::new()
        .max_connections(READERS)
        .idle_timeout(None)
        .max_lifetime(None)
        .acquire_timeout(Duration::from_secs(10))
        .after_connect(move |_, _| {
            let moved = standing.moved();
            Box::pin(async move { if moved { Err(replaced()) } else { Ok(()) } })
        })
        .connect_with(options(path).pragma("query_only", "ON"))
        .await?;
    // all of them now, while the file is surely there: what was saved can be read even when it goes
    let mut opened = Vec::new();
    for _ in 0..READERS {
        opened.push(readers.acquire().await?);
    }
    drop(opened);
    Ok(readers)
}

fn replaced() -> sqlx::Error {
    std::io::Error::other("the file was moved or replaced").into()
}

/// The connection of the one writer.
pub(in crate::store) async fn writing_connection(path: &Path) -> Result<SqliteConnection, sqlx::Error> {
    SqliteConnection::connect_with(&options(path)).await
}
