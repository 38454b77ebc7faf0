//! `shimlight restore`

use std::{
    fs,
    path::{Path, PathBuf},
    process::ExitCode,
};

use anyhow::{Context, bail};
use clap::Args;

use super::{beside, database, faults, manifest, traces};
use crate::store::{
    self, Store,
    engine::own_files::{self, with_ending},
};

#[derive(Debug, Args)]
pub struct Options {
    /// The backup to put in the database's place
    file: PathBuf,
}

pub async fn run(path: &Path, options: &Options) -> anyhow::Result<ExitCode> {
    if !options.file.is_file() {
        bail!("there is no backup at {}", options.file.display());
    }
    let Some(mut lock) = database::try_lock(path)? else {
        bail!("{} is being served: stop the server first", path.display());
    };
    // everything happens to a copy, so that neither the backup nor the old file can be harmed
    let incoming = beside::beside(path, "incoming");
    traces::remove(&incoming);
    let taken = match take_in(&options.file, &incoming).await {
        Ok(taken) => taken,
        Err(error) => {
            traces::remove(&incoming);
            return Err(error.context("nothing was changed"));
        }
    };
    let kept = traces::free_replaced(path);
    let log = log_beside(path).await;
    put_in_place(path, &incoming, &kept, log, &mut |_| Ok(()))?;
    lock.remember(path)?;
    say!("{} now holds what {} held, checked and sound{}.", path.display(), options.file.display(), taken.told);
    for fault in taken.of_old {
        say!("An earlier version let be written, and still to be put right: {fault}");
    }
    if kept.exists() {
        say!("What was there before is kept as {}.", kept.display());
    }
    Ok(ExitCode::SUCCESS)
}

/// A backup taken in.
pub struct TakenIn {
    /// How it was known to be unchanged, as the end of a sentence.
    pub told: &'static str,
    /// What is wrong of old and keeps nobody from the book.
    pub of_old: Vec<String>,
}

/// Copies the backup, brings its schema up to date, and checks it.
pub async fn take_in(backup: &Path, incoming: &Path) -> anyhow::Result<TakenIn> {
    let told = match manifest::compare(backup)? {
        manifest::Compared::Same => ", and unchanged since it was made",
        manifest::Compared::None => "",
    };
    store::copy(backup, incoming).await.with_context(|| format!("{} cannot be read as a backup", backup.display()))?;
    if !store::is_ours(incoming).await? {
        bail!("{} is not a database of Shimlight", backup.display());
    }
    let store = Store::open(incoming).await?;
    let faults = faults::faults(&store).await;
    store.close().await;
    let store::engine::check::Found { of_old, others: faults } = faults?;
    if let Some(first) = faults.first() {
        bail!("{} is not sound: {first} (and {} more)", backup.display(), faults.len() - 1);
    }
    fs::File::open(incoming)?.sync_all()?;
    own_files::sync_folder_of(incoming)?;
    Ok(TakenIn { told, of_old })
}

/// Whose the write-ahead log beside the old file is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Log {
    /// There is none any more: what it held is in the file.
    Folded,
    /// The file's own; it could not be written into it.
    Own,
    /// Another file's.
    Others,
}

/// Writes the log of the old file into it where that can be done, so that the file alone is whole.
async fn log_beside(path: &Path) -> Log {
    let wal = with_ending(path, "-wal");
    if !path.exists() {
        return if wal.exists() { Log::Others } else { Log::Folded };
    }
    if traces::prove_log(path).await.is_err() {
        return Log::Others;
    }
    if wal.exists()
        && let Err(error) = store::fold_log(path).await
    {
        tracing::warn!(%error, "the old file is too damaged to take its log in; it is kept with it");
    }
    if fs::metadata(&wal).is_ok_and(|data| data.len() > 0) { Log::Own } else { Log::Folded }
}

/// What has just been done, each of it whole: the power may go after any.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    /// The old file has a second name, under which it is kept.
    Kept,
    /// What SQLite had beside the old file stands beside its second name.
    LogKept,
    /// The new file has taken the name of the old one.
    Swapped,
    /// The disk keeps that.
    Synced,
}

/// Puts a checked copy in the database's place. At every moment either the old or the new file stands at
/// the path: the old one gets a second name first, then the new one takes the first name in one step.
/// `done` hears of each step; an error from it ends everything there, as a loss of power would.
fn put_in_place(
    path: &Path,
    incoming: &Path,
    kept: &Path,
    log: Log,
    done: &mut dyn FnMut(Step) -> anyhow::Result<()>,
) -> anyhow::Result<()> {
    let aside = || format!("cannot set {} aside", path.display());
    if path.exists() && fs::hard_link(path, kept).is_err() {
        // a disk that knows no second names
        let mut copy = own_files::create_new(kept).with_context(aside)?;
        std::io::copy(&mut fs::File::open(path)?, &mut copy).with_context(aside)?;
        copy.sync_all()?;
    }
    own_files::sync_folder_of(path)?;
    done(Step::Kept)?;
    for ending in traces::OF_SQLITE {
        let from = with_ending(path, ending);
        if from.exists() {
            // under a name by which SQLite finds it, unless it is another file's
            let named = if log == Log::Others { ending.replace('-', ".") } else { ending.to_owned() };
            fs::rename(&from, with_ending(kept, &named)).with_context(aside)?;
        }
    }
    own_files::sync_folder_of(path)?;
    done(Step::LogKept)?;
    fs::rename(incoming, path).with_context(|| format!("cannot write {}", path.display()))?;
    done(Step::Swapped)?;
    own_files::sync_folder_of(path)?;
    done(Step::Synced)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{domain::instant::Instant, store::Stamp};

    /// A database that says one word, closed in order.
    async fn saying(path: &Path, word: &'static str) {
        let store = Store::open(path).await.expect("a fresh database");
        say_word(&store, word).await;
        store.close().await;
    }

    async fn say_word(store: &Store, word: &'static str) {
        let at = Instant::from_micros(1_774_029_600_000_000).expect("in range");
        let said = store.write(Stamp::server(at), move |tx| {
            Box::pin(async move {
                sqlx::query("INSERT INTO change_log (at, actor_kind, what, subject) VALUES (0, 'server', ?, 'word')")
                    .bind(word)
                    .execute(tx)
                    .await?;
                Ok(String::new())
            })
        });
        said.await.expect("written");
    }

    /// What a file says, which must be sound.
    async fn words(path: &Path) -> Vec<String> {
        let store = Store::open(path).await.expect("it opens");
        let mut conn = store.read().await.expect("a reader");
        assert_eq!(store::engine::check::run(&mut conn).await.expect("checked"), []);
        let words = sqlx::query_scalar("SELECT what FROM change_log WHERE subject = 'word' ORDER BY id");
        let words = words.fetch_all(&mut *conn).await.expect("words");
        drop(conn);
        store.close().await;
        words
    }

    /// A database whose last word stands in its log alone, as a loss of power leaves it.
    async fn with_a_log(path: &Path) {
        let served = path.with_file_name("served.db");
        saying(&served, "old").await;
        let store = Store::open(&served).await.expect("it opens");
        say_word(&store, "last").await;
        for ending in ["", "-wal"] {
            fs::copy(with_ending(&served, ending), with_ending(path, ending)).expect("copied");
        }
        store.close().await;
        let alone = path.with_file_name("alone.db");
        fs::copy(path, &alone).expect("copied");
        assert_eq!(words(&alone).await, ["old"], "the last word is in the log");
    }

    #[tokio::test]
    async fn whenever_the_power_goes_the_old_file_or_the_new_one_stands_whole_at_the_path() {
        for last in [Step::Kept, Step::LogKept, Step::Swapped, Step::Synced] {
            let folder = tempfile::tempdir().expect("a folder");
            let path = folder.path().join("shimlight.db");
            let (incoming, kept) = (beside::beside(&path, "incoming"), beside::beside(&path, "replaced-1"));
            with_a_log(&path).await;
            saying(&incoming, "new").await;
            let log = log_beside(&path).await;
            let ended = put_in_place(&path, &incoming, &kept, log, &mut |step| {
                if step == last { bail!("the power goes") } else { Ok(()) }
            });
            assert!(ended.is_err(), "{last:?}");
            let at_the_path = words(&path).await;
            if matches!(last, Step::Swapped | Step::Synced) {
                assert_eq!(at_the_path, ["new"], "{last:?}");
                assert_eq!(words(&kept).await, ["old", "last"], "{last:?}");
                assert!(!incoming.exists());
            } else {
                assert_eq!(at_the_path, ["old", "last"], "{last:?}");
                // told to once more, it goes through
                let log = log_beside(&path).await;
                let kept = beside::beside(&path, "replaced-2");
                put_in_place(&path, &incoming, &kept, log, &mut |_| Ok(())).expect("done");
                assert_eq!((words(&path).await, words(&kept).await), (vec!["new".to_owned()], at_the_path), "{last:?}");
            }
        }
    }

    #[tokio::test]
    async fn the_log_of_another_file_is_kept_apart() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("shimlight.db");
        let (incoming, kept) = (beside::beside(&path, "incoming"), beside::beside(&path, "replaced-1"));
        with_a_log(&path).await;
        // the file is gone, its log is there
        fs::remove_file(&path).expect("there");
        saying(&incoming, "new").await;
        let log = log_beside(&path).await;
        assert_eq!(log, Log::Others);
        put_in_place(&path, &incoming, &kept, log, &mut |_| Ok(())).expect("done");
        assert_eq!(words(&path).await, ["new"]);
        assert!(with_ending(&kept, ".wal").exists());
    }
}
