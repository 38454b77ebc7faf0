//! The one writer: whatever waits becomes one commit, a savepoint each, answered after the commit.
//!
//! A closure that refuses, or that a constraint stops, fails alone: its savepoint is rolled back.
//! Any other error (full disk, lost file, a panic) fails everything in the group, because then it
//! is not known what the connection holds; the connection is opened anew.
//!
//! Before each group and after its commit it looks whether the file is still where it was opened. If it
//! is not, nothing is answered for any more, but the server goes on: its pages can be read, forms come back
//! with what was typed, a copy of everything saved is written beside, and once the file is put back
//! writes are taken again. Ending instead would lose what is being typed, and a start finds no file.

use std::{panic::AssertUnwindSafe, path::PathBuf, pin::Pin, sync::Arc};

use futures_util::FutureExt;
use sqlx::{Connection, SqliteConnection};
use tokio::sync::{mpsc, oneshot};

use super::{
    changes::Changes,
    commits::Commits,
    connect::{LONGEST_LOG, wal_bytes, writing_connection},
    digests,
    disk::Disk,
    own_files, receipts,
    stamp::Stamp,
    standing::Standing,
};
use crate::store::{Error, Landing, Trouble, WriteError};

/// How many waiting writes share one commit at most, so that the first of them never waits long.
const GROUP: usize = 64;

/// A write in the making: a future that borrows the writer's connection.
pub type Work<'c> = Pin<Box<dyn Future<Output = Result<Landing, WriteError>> + Send + 'c>>;

type Closure = Box<dyn for<'c> FnOnce(&'c mut SqliteConnection) -> Work<'c> + Send>;

pub(in crate::store) enum Job {
    Write { stamp: Box<Stamp>, work: Closure, answer: oneshot::Sender<Result<Landing, WriteError>> },
    Ping { answer: oneshot::Sender<()> },
    Close { answer: oneshot::Sender<()> },
    Pretend { disk: Disk, answer: oneshot::Sender<()> },
    Scrub { answer: oneshot::Sender<Result<(), WriteError>> },
}

/// Why nothing of a group is stored.
#[derive(Clone, Debug, thiserror::Error)]
enum Broken {
    #[error("{0}")]
    Storage(String),
    #[error(transparent)]
    Trouble(Trouble),
}

impl Broken {
    fn storage(what: &str) -> Self {
        Self::Storage(what.to_owned())
    }
}

impl From<sqlx::Error> for Broken {
    fn from(error: sqlx::Error) -> Self {
        match Error::from(error) {
            Error::Damaged(error) => Self::Trouble(Trouble::Damaged(error.to_string())),
            other => Self::Storage(other.to_string()),
        }
    }
}

impl From<Broken> for WriteError {
    fn from(broken: Broken) -> Self {
        match broken {
            Broken::Storage(message) => Self::Storage(message),
            Broken::Trouble(trouble) => Self::Trouble(trouble),
        }
    }
}

/// How a savepoint ended.
enum Outcome {
    Done(Landing),
    Refused(WriteError),
    Broken(Broken),
}

/// What the one writer works with.
pub(in crate::store) struct Writer {
    pub path: PathBuf,
    pub commits: Arc<Commits>,
    pub changes: Arc<Changes>,
    pub standing: Arc<Standing>,
}

impl Writer {
    /// Runs until told to close or until every handle is gone. `anchor` is only held open.
    pub(in crate::store) async fn run(
        self,
        conn: SqliteConnection,
        mut anchor: SqliteConnection,
        mut jobs: mpsc::Receiver<Job>,
    ) {
        let mut disk = Disk::default();
        let mut conn = self.prepare(conn, disk).await;
        let mut waiting = Vec::with_capacity(GROUP);
        let (mut rescued, mut cut_at) = (false, LONGEST_LOG);
        let mut closing = None;
        while closing.is_none() {
            waiting.clear();
            if jobs.recv_many(&mut waiting, GROUP).await == 0 {
                break;
            }
            let mut scrubbing = Vec::new();
            let mut writes = Vec::with_capacity(waiting.len());
            for job in waiting.drain(..) {
                match job {
                    Job::Write { stamp, work, answer } => writes.push((stamp, work, answer)),
                    Job::Ping { answer } => drop(answer.send(())),
                    Job::Close { answer } => closing = Some(answer),
                    Job::Scrub { answer } => scrubbing.push(answer),
                    Job::Pretend { disk: pretended, answer } => {
                        disk = pretended;
                        if let Some(conn) = &mut conn {
                            drop(execute(conn, disk.pragmas()).await);
                        }
                        let _ = answer.send(());
                    }
                }
            }
            let moved = self.standing.moved();
            if moved && !rescued {
                rescued = true;
                self.rescue(conn.as_mut().unwrap_or(&mut anchor)).await;
            }
            rescued &= moved;
            if moved {
                refuse(writes, &Broken::Trouble(Trouble::Moved));
            } else if !writes.is_empty() {
                conn = self.write(conn, writes, disk).await;
                if let Some(conn) = &mut conn {
                    self.bound_the_log(conn, &mut cut_at).await;
                }
            }
            // after the writes that came with it, so that what they deleted is gone too
            for answer in scrubbing {
                let done = match &mut conn {
                    _ if moved => Err(Broken::Trouble(Trouble::Moved)),
                    Some(conn) => scrub(conn).await,
                    None => Err(Broken::storage("the database file cannot be opened")),
                };
                drop(answer.send(done.map_err(WriteError::from)));
            }
        }
        if let Some(conn) = conn {
            drop(conn.close().await);
        }
        drop(anchor.close().await);
        if let Some(answer) = closing {
            let _ = answer.send(());
        }
    }

    /// Makes a connection ready to write with. `None` when the file cannot be used, or is another by now.
    async fn prepare(&self, mut conn: SqliteConnection, disk: Disk) -> Option<SqliteConnection> {
        let ready: Result<(), Broken> = async {
            self.changes.watch(&mut conn).await?;
            digests::watch(&mut conn).await?;
            if disk != Disk::default() {
                execute(&mut conn, disk.pragmas()).await?;
            }
            Ok(())
        }
        .await;
        match ready {
            Ok(()) if !self.standing.moved() => Some(conn),
            Ok(()) => None,
            Err(error) => {
                tracing::error!(%error, "the database cannot be written to");
                None
            }
        }
    }

    /// Writes a group, over a connection opened anew where there is none. Gives back the connection to
    /// go on with.
    async fn write(
        &self,
        conn: Option<SqliteConnection>,
        writes: Vec<Waiting>,
        disk: Disk,
    ) -> Option<SqliteConnection> {
        let conn = match conn {
            Some(conn) => Some(conn),
            None => match writing_connection(&self.path).await {
                Ok(conn) => self.prepare(conn, disk).await,
                Err(_) => None,
            },
        };
        let Some(conn) = conn else {
            refuse(writes, &Broken::storage("the database file cannot be opened"));
            return None;
        };
        let (count, began) = (writes.len(), tokio::time::Instant::now());
        let conn = self.commit_group(conn, writes).await;
        self.commits.note(count, conn.is_some(), began.elapsed());
        conn
    }

    /// Runs the group in one transaction. Gives the connection back unless it must be opened anew.
    async fn commit_group(&self, mut conn: SqliteConnection, writes: Vec<Waiting>) -> Option<SqliteConnection> {
        let mut answers = Vec::with_capacity(writes.len());
        let mut broken = execute(&mut conn, "BEGIN IMMEDIATE").await.err();
        for (stamp, work, answer) in writes {
            let outcome = match &broken {
                Some(_) => None,
                None => match in_savepoint(&mut conn, &stamp, work).await {
                    Outcome::Done(landing) => Some(Ok(landing)),
                    Outcome::Refused(error) => Some(Err(error)),
                    Outcome::Broken(how) => {
                        broken = Some(how);
                        None
                    }
                },
            };
            answers.push((answer, outcome));
        }
        if broken.is_none() {
            broken = digests::settle(&mut conn).await.map_err(Broken::from).err();
        }
        if broken.is_none() {
            broken = execute(&mut conn, "COMMIT").await.err();
        }
        let lost = broken.is_some();
        // moved while this was written: it stands in a file that nobody may find again
        if !lost && self.standing.moved() {
            broken = Some(Broken::Trouble(Trouble::Moved));
        }
        if let Some(Broken::Trouble(Trouble::Damaged(what))) = &broken {
            self.standing.note_damage(what);
        }
        self.changes.settle(!lost);
        for (answer, outcome) in answers {
            let result = match (&broken, outcome) {
                (None, Some(outcome)) => outcome,
                // a refusal stands whatever became of the group: nothing was to be stored
                (Some(_), Some(Err(error))) => Err(error),
                (Some(how), _) => Err(how.clone().into()),
                (None, None) => Err(WriteError::Storage("the write was not reached".to_owned())),
            };
            drop(answer.send(result));
        }
        if lost {
            let error = broken.map(|how| how.to_string());
            tracing::error!(error, "a group of writes failed; the connection is opened anew");
            drop(execute(&mut conn, "ROLLBACK").await);
            drop(conn.close().await);
            return None;
        }
        Some(conn)
    }

    /// Cuts the write-ahead log short once it is `cut_at` long. Where somebody reads for long it is tried
    /// again when the log has grown by another part, so that nobody waits for it at every commit.
    async fn bound_the_log(&self, conn: &mut SqliteConnection, cut_at: &mut u64) {
        let bytes = wal_bytes(&self.path);
        if bytes < *cut_at {
            return;
        }
        let cut: Result<bool, Broken> = async {
            execute(conn, "PRAGMA busy_timeout = 200").await?;
            let cut = cut_the_log(conn).await;
            execute(conn, "PRAGMA busy_timeout = 5000").await?;
            cut
        }
        .await;
        *cut_at = if cut.unwrap_or(false) { LONGEST_LOG } else { bytes + LONGEST_LOG / 4 };
    }

    /// The file was moved or deleted, but is still open here: everything answered for is written into a
    /// new file beside the place where it was.
    async fn rescue(&self, conn: &mut SqliteConnection) {
        let copy = own_files::free_name(&self.path, "rescued-copy");
        let written: Result<(), Broken> = async {
            let file = own_files::create_new(&copy).map_err(sqlx::Error::from)?;
            let target = copy.to_string_lossy().into_owned();
            sqlx::query("VACUUM INTO ?").bind(target).execute(conn).await?;
            file.sync_all().and_then(|()| own_files::sync_folder_of(&copy)).map_err(sqlx::Error::from)?;
            Ok(())
        }
        .await;
        let (file, copy) = (self.path.display(), copy.display());
        match written {
            Ok(()) => tracing::error!(
                %file, %copy,
                "the database file was moved or replaced; nothing is saved any more. Everything saved before is in the copy: \
                 stop the server, then move the file back, or put the copy in its place with `shimlight restore`"
            ),
            Err(error) => tracing::error!(
                %file, %error,
                "the database file was moved or replaced, and no copy could be written; nothing is saved any more. Move the \
                 file back while the server runs"
            ),
        }
    }
}

type Waiting = (Box<Stamp>, Closure, oneshot::Sender<Result<Landing, WriteError>>);

fn refuse(writes: Vec<Waiting>, why: &Broken) {
    for (_, _, answer) in writes {
        drop(answer.send(Err(why.clone().into())));
    }
}

async fn in_savepoint(conn: &mut SqliteConnection, stamp: &Stamp, work: Closure) -> Outcome {
    if let Err(how) = execute(conn, "SAVEPOINT one").await {
        return Outcome::Broken(how);
    }
    let result = AssertUnwindSafe(act(conn, stamp, work)).catch_unwind().await;
    match result {
        Ok(Ok(landing)) => match execute(conn, "RELEASE one").await {
            Ok(()) => Outcome::Done(landing),
            Err(how) => Outcome::Broken(how),
        },
        Ok(Err(WriteError::Storage(message))) => Outcome::Broken(Broken::Storage(message)),
        Ok(Err(WriteError::Trouble(trouble))) => Outcome::Broken(Broken::Trouble(trouble)),
        Ok(Err(error)) => match execute(conn, "ROLLBACK TO one; RELEASE one").await {
            Ok(()) => Outcome::Refused(error),
            Err(how) => Outcome::Broken(how),
        },
        Err(_panic) => Outcome::Broken(Broken::storage("a write stopped halfway (panic)")),
    }
}

async fn act(conn: &mut SqliteConnection, stamp: &Stamp, work: Closure) -> Result<Landing, WriteError> {
    if !stamp.receipt {
        return work(conn).await;
    }
    if let receipts::Verdict::Same(landing) = receipts::find(conn, stamp).await? {
        return Ok(landing);
    }
    let landing = work(conn).await?;
    receipts::insert(conn, stamp, &landing, stamp.at).await?;
    Ok(landing)
}

/// Writes the file anew without what was deleted, and empties the write-ahead log, which still holds
/// older pages. A reader in the middle of a page keeps the log for a moment: it is tried again.
async fn scrub(conn: &mut SqliteConnection) -> Result<(), Broken> {
    execute(conn, "VACUUM").await?;
    // everybody who wants to write waits meanwhile: two seconds in all, then it is for later
    execute(conn, "PRAGMA busy_timeout = 400").await?;
    let emptied = empty_the_log(conn).await;
    execute(conn, "PRAGMA busy_timeout = 5000").await?;
    emptied
}

async fn empty_the_log(conn: &mut SqliteConnection) -> Result<(), Broken> {
    for _ in 0..5 {
        if cut_the_log(conn).await? {
            return Ok(());
        }
    }
    Err(Broken::storage("somebody reads at this moment; older pages are still in the write-ahead log"))
}

/// Writes the log into the file and cuts it to nothing; `false` when somebody still reads in it.
async fn cut_the_log(conn: &mut SqliteConnection) -> Result<bool, Broken> {
    let row = sqlx::query("PRAGMA wal_checkpoint(TRUNCATE)").fetch_one(conn).await?;
    Ok(sqlx::Row::try_get::<i64, _>(&row, 0)? == 0)
}

async fn execute(conn: &mut SqliteConnection, sql: &'static str) -> Result<(), Broken> {
    sqlx::raw_sql(sql).execute(conn).await?;
    Ok(())
}
