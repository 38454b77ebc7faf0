//! Opening the database file: connections, the writer, backup.

use std::{
    path::{Path, PathBuf},
    sync::Arc,
    time::Duration,
};

use sqlx::{Connection, SqliteConnection, SqlitePool, pool::PoolConnection, sqlite::SqlitePoolOptions};
use tokio::sync::{broadcast, mpsc, oneshot};

use crate::domain::instant::Instant;

use super::{
    changes::{Changed, Changes},
    commits::Commits,
    connect::{copy, options, wal_bytes, writing_connection},
    disk::Disk,
    migrate::{self, OpenError},
    own_files, receipts,
    stamp::Stamp,
    standing::{FileId, Standing},
    writer::{self, Job, Work},
};
use crate::store::{Counted, Error, Landing, Trouble, WriteError};

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
