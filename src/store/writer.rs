//! The one writer: whatever waits becomes one commit, a savepoint each, answered after the commit.
//!
//! A closure that refuses, or that a constraint stops, fails alone: its savepoint is rolled back.
//! Any other error (full disk, lost file, a panic) fails everything in the group, because then it
//! is not known what the connection holds; the connection is opened anew.

use std::{panic::AssertUnwindSafe, path::PathBuf, pin::Pin, sync::Arc};

use futures_util::FutureExt;
use sha2::{Digest, Sha256};
use sqlx::{Connection, SqliteConnection};
use tokio::sync::{mpsc, oneshot};
use uuid::Uuid;

use crate::domain::{
    actor::Actor,
    field_errors::FieldErrors,
    ids::{FormId, Id},
    instant::Instant,
};

use super::{Disk, Landing, WriteError, changes::Changes, commits::Commits, open, receipts};

/// How many waiting writes share one commit at most, so that the first of them never waits long.
const GROUP: usize = 64;

/// A write in the making: a future that borrows the writer's connection.
pub type Work<'c> = Pin<Box<dyn Future<Output = Result<Landing, WriteError>> + Send + 'c>>;

type Closure = Box<dyn for<'c> FnOnce(&'c mut SqliteConnection) -> Work<'c> + Send>;

/// What identifies a sending: which form, by whom, to which route, with what content.
#[derive(Clone, Debug)]
pub struct Stamp {
    /// The id the page put into the form.
    pub form_id: FormId,
    /// Who sent it.
    pub actor: Actor,
    /// Method and path it went to: two forms of one page share an id, not a route.
    pub route: String,
    /// SHA-256 of everything that was sent.
    pub body_hash: [u8; 32],
    /// When it arrived.
    pub at: Instant,
    /// Whether a receipt is kept; the server's own writes need none.
    pub receipt: bool,
    /// Fields of which only the beginning was read: nothing is written under a stamp that has any.
    pub cut: FieldErrors,
}

impl Stamp {
    /// A stamp for what no form caused: the demo, the command line, clean-up. Without a receipt its id is
    /// never looked at, and drawing one would spend chance: a write that happens or not by the machine's
    /// speed (noting that a sign-in was used) would change every id after it.
    pub fn server(at: Instant) -> Self {
        let form_id = FormId::from_uuid(Uuid::nil());
        Self {
            form_id,
            actor: Actor::Server,
            route: "server".to_owned(),
            body_hash: [0; 32],
            at,
            receipt: false,
            cut: FieldErrors::none(),
        }
    }

    /// The receipt's key: form and route together, so that each form of a page has its own.
    pub(super) fn key(&self) -> [u8; 16] {
        let mut hasher = Sha256::new();
        hasher.update(self.form_id.as_uuid().as_bytes());
        hasher.update(self.route.as_bytes());
        let digest: [u8; 32] = hasher.finalize().into();
        let mut key = [0; 16];
        key.copy_from_slice(&digest[..16]);
        key
    }

    pub(super) fn actor_key(&self) -> Vec<u8> {
        self.actor.person().map_or_else(|| vec![0; 16], |person| person.as_uuid().as_bytes().to_vec())
    }
}

pub(super) enum Job {
    Write { stamp: Box<Stamp>, work: Closure, answer: oneshot::Sender<Result<Landing, WriteError>> },
    Ping { answer: oneshot::Sender<()> },
    Close { answer: oneshot::Sender<()> },
    Pretend { disk: Disk, answer: oneshot::Sender<()> },
    Scrub { answer: oneshot::Sender<Result<(), String>> },
}

/// How a savepoint ended.
enum Outcome {
    Done(Landing),
    Refused(WriteError),
    Broken(String),
}

/// Runs until told to close or until every handle is gone.
pub(super) async fn run(
    path: PathBuf,
    mut conn: Option<SqliteConnection>,
    mut jobs: mpsc::Receiver<Job>,
    commits: Arc<Commits>,
    changes: Arc<Changes>,
) {
    if let Some(conn) = &mut conn {
        drop(changes.watch(conn).await);
    }
    let mut waiting = Vec::with_capacity(GROUP);
    let mut disk = Disk::default();
    loop {
        waiting.clear();
        if jobs.recv_many(&mut waiting, GROUP).await == 0 {
            break;
        }
        let mut closing = None;
        let mut scrubbing = Vec::new();
        let mut writes = Vec::with_capacity(waiting.len());
        for job in waiting.drain(..) {
            match job {
                Job::Write { stamp, work, answer } => writes.push((stamp, work, answer)),
                Job::Ping { answer } => {
                    let _ = answer.send(());
                }
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
        if !writes.is_empty() {
            if conn.is_none() {
                conn = open::writing_connection(&path).await.ok();
                if let Some(conn) = &mut conn {
                    drop(changes.watch(conn).await);
                }
                if let (Some(conn), true) = (&mut conn, disk != Disk::default()) {
                    drop(execute(conn, disk.pragmas()).await);
                }
            }
            conn = match conn {
                Some(conn) => {
                    let (count, began) = (writes.len(), tokio::time::Instant::now());
                    let conn = commit_group(conn, writes, &changes).await;
                    commits.note(count, conn.is_some(), began.elapsed());
                    conn
                }
                None => {
                    for (_, _, answer) in writes {
                        drop(answer.send(Err(WriteError::Storage("the database file cannot be opened".to_owned()))));
                    }
                    None
                }
            };
        }
        // after the writes that came with it, so that what they deleted is gone too
        for answer in scrubbing {
            let done = match &mut conn {
                Some(conn) => scrub(conn).await,
                None => Err("the database file cannot be opened".to_owned()),
            };
            drop(answer.send(done));
        }
        if let Some(answer) = closing {
            if let Some(conn) = conn.take() {
                drop(conn.close().await);
            }
            let _ = answer.send(());
            break;
        }
    }
}

type Waiting = (Box<Stamp>, Closure, oneshot::Sender<Result<Landing, WriteError>>);

/// Runs the group in one transaction. Gives the connection back unless it must be opened anew.
async fn commit_group(mut conn: SqliteConnection, writes: Vec<Waiting>, changes: &Changes) -> Option<SqliteConnection> {
    let mut answers = Vec::with_capacity(writes.len());
    let mut broken = execute(&mut conn, "BEGIN IMMEDIATE").await.err();
    for (stamp, work, answer) in writes {
        let outcome = match &broken {
            Some(_) => None,
            None => match in_savepoint(&mut conn, &stamp, work).await {
                Outcome::Done(landing) => Some(Ok(landing)),
                Outcome::Refused(error) => Some(Err(error)),
                Outcome::Broken(message) => {
                    broken = Some(message);
                    None
                }
            },
        };
        answers.push((answer, outcome));
    }
    if broken.is_none() {
        broken = execute(&mut conn, "COMMIT").await.err();
    }
    let lost = broken.is_some();
    changes.settle(!lost);
    for (answer, outcome) in answers {
        let result = match (&broken, outcome) {
            (None, Some(outcome)) => outcome,
            // a refusal stands whatever became of the group: nothing was to be stored
            (Some(_), Some(Err(error))) => Err(error),
            (Some(message), _) => Err(WriteError::Storage(message.clone())),
            (None, None) => Err(WriteError::Storage("the write was not reached".to_owned())),
        };
        drop(answer.send(result));
    }
    if lost {
        tracing::error!(error = broken.as_deref(), "a group of writes failed; the connection is opened anew");
        drop(execute(&mut conn, "ROLLBACK").await);
        drop(conn.close().await);
        return None;
    }
    Some(conn)
}

async fn in_savepoint(conn: &mut SqliteConnection, stamp: &Stamp, work: Closure) -> Outcome {
    if let Err(message) = execute(conn, "SAVEPOINT one").await {
        return Outcome::Broken(message);
    }
    let result = AssertUnwindSafe(act(conn, stamp, work)).catch_unwind().await;
    match result {
        Ok(Ok(landing)) => match execute(conn, "RELEASE one").await {
            Ok(()) => Outcome::Done(landing),
            Err(message) => Outcome::Broken(message),
        },
        Ok(Err(WriteError::Storage(message))) => Outcome::Broken(message),
        Ok(Err(error)) => match execute(conn, "ROLLBACK TO one; RELEASE one").await {
            Ok(()) => Outcome::Refused(error),
            Err(message) => Outcome::Broken(message),
        },
        Err(_panic) => Outcome::Broken("a write stopped halfway (panic)".to_owned()),
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
async fn scrub(conn: &mut SqliteConnection) -> Result<(), String> {
    execute(conn, "VACUUM").await?;
    // everybody who wants to write waits meanwhile: two seconds in all, then it is for later
    execute(conn, "PRAGMA busy_timeout = 400").await?;
    let emptied = empty_the_log(conn).await;
    execute(conn, "PRAGMA busy_timeout = 5000").await?;
    emptied
}

async fn empty_the_log(conn: &mut SqliteConnection) -> Result<(), String> {
    for _ in 0..5 {
        let row = sqlx::query("PRAGMA wal_checkpoint(TRUNCATE)").fetch_one(&mut *conn).await;
        let busy: i64 = row.and_then(|row| sqlx::Row::try_get(&row, 0)).map_err(|error| error.to_string())?;
        if busy == 0 {
            return Ok(());
        }
    }
    Err("somebody reads at this moment; older pages are still in the write-ahead log".to_owned())
}

async fn execute(conn: &mut SqliteConnection, sql: &'static str) -> Result<(), String> {
    sqlx::raw_sql(sql).execute(conn).await.map(drop).map_err(|error| error.to_string())
}
