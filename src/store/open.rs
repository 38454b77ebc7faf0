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
    Counted, Error, Landing, Stamp, Work, WriteError,
    changes::{Changed, Changes},
    commits::Commits,
    migrate::{self, OpenError},
    receipts,
    writer::{self, Job},
};

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
}

impl Store {
    /// Opens the file, making it if it is not there, and brings its schema up to date (after a copy
    /// of the file as it was).
    ///
    /// # Errors
    /// When the file cannot be used or its schema is not ours; see [`OpenError`].
    pub async fn open(path: &Path) -> Result<Self, OpenError> {
        let file = |source| OpenError::File { path: path.to_owned(), source };
        migrate::up_to_date(path).await?;
        let conn = writing_connection(path).await.map_err(file)?;
        let readers = SqlitePoolOptions::new()
            .max_connections(READERS)
            .acquire_timeout(Duration::from_secs(10))
            .connect_with(options(path).pragma("query_only", "ON"))
            .await
            .map_err(file)?;
        let (jobs, queue) = mpsc::channel(QUEUE);
        let commits = Arc::new(Commits::default());
        let changes = Arc::new(Changes::default());
        let (counting, telling) = (Arc::clone(&commits), Arc::clone(&changes));
        tokio::spawn(writer::run(path.to_owned(), Some(conn), queue, counting, telling));
        Ok(Self { readers, jobs, path: path.to_owned(), commits, changes })
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
        answered.await.map_err(|_| gone())?.map_err(WriteError::Storage)
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
        let mut wal = self.path.as_os_str().to_owned();
        wal.push("-wal");
        std::fs::metadata(wal).map_or(0, |data| data.len())
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

/// Writes a consistent copy of the database at `from` to `to`, which must not exist yet; `from` may
/// be served meanwhile.
///
/// # Errors
/// When `from` is not a database or the copy cannot be written.
pub async fn copy(from: &Path, to: &Path) -> Result<(), Error> {
    // its journal is left as it is: a backup on a read-only disk can be copied too
    let plain = SqliteConnectOptions::new().filename(from).busy_timeout(Duration::from_secs(5));
    let mut conn = SqliteConnection::connect_with(&plain).await?;
    let target = to.to_string_lossy().into_owned();
    sqlx::query("VACUUM INTO ?").bind(target).execute(&mut conn).await?;
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
    pub(super) fn pragmas(self) -> &'static str {
        match self {
            Self::Sound => "PRAGMA max_page_count = 4294967294; PRAGMA query_only = OFF",
            // below its present size, a file's limit is its present size
            Self::Full => "PRAGMA max_page_count = 1; PRAGMA query_only = OFF",
            Self::ReadOnly => "PRAGMA query_only = ON",
        }
    }
}

pub(super) fn options(path: &Path) -> SqliteConnectOptions {
    SqliteConnectOptions::new()
        .filename(path)
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Wal)
        // acknowledged means on disk
        .synchronous(SqliteSynchronous::Full)
        .foreign_keys(true)
        .busy_timeout(Duration::from_secs(5))
        .pragma("trusted_schema", "OFF")
        .pragma("temp_store", "MEMORY")
        // what is deleted is overwritten
        .pragma("secure_delete", "ON")
}

/// The connection of the one writer.
pub(super) async fn writing_connection(path: &Path) -> Result<SqliteConnection, sqlx::Error> {
    SqliteConnection::connect_with(&options(path)).await
}
